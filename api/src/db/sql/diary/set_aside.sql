SELECT e.store_id, e.from_date, e.to_date
FROM diary_entries e
WHERE e.sets_aside AND e.to_date >= $1 AND e.from_date <= $2
  AND NOT EXISTS (SELECT FROM diary_withdrawals w WHERE w.entry_id = e.id)
