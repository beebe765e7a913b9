SELECT e.business_date, e.id, e.body
FROM entries e
WHERE e.store_id = $1 AND e.business_date BETWEEN $2 AND $3 AND ($4 IS NULL OR e.district_id = $4)
  AND NOT EXISTS (SELECT FROM entry_withdrawals w WHERE w.entry_id = e.id)
ORDER BY e.business_date, e.id
