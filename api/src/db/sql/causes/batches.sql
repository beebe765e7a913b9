SELECT e.business_date, e.body
FROM entries e
WHERE e.store_id = $1 AND e.business_date BETWEEN $2 AND $3 AND e.kind = 'batch'
  AND NOT EXISTS (SELECT FROM entry_withdrawals w WHERE w.entry_id = e.id)
ORDER BY e.business_date, e.id
