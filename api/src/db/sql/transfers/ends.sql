SELECT e.id, e.store_id, e.business_date, e.body, e.recorded_at
FROM entries e
WHERE e.kind IN ('transfer_in', 'transfer_out') AND e.business_date BETWEEN $1 AND $2
  AND NOT EXISTS (SELECT FROM entry_withdrawals w WHERE w.entry_id = e.id)
UNION
SELECT id, store_id, business_date, body, recorded_at
FROM transfers_naming($1, $2, $3)
ORDER BY business_date, id
