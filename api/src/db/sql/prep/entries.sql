SELECT e.business_date, e.body
FROM entries e
WHERE e.store_id = $1 AND e.business_date > $2 AND e.business_date <= $3
  AND e.kind IN ('waste', 'delivery', 'transfer_in', 'transfer_out', 'batch', 'preparation')
  AND NOT EXISTS (SELECT FROM entry_withdrawals w WHERE w.entry_id = e.id)
ORDER BY e.business_date, e.recorded_at, e.id
