SELECT e.id, e.store_id, e.kind, e.from_date, e.to_date, e.sets_aside, e.said, e.said_by, e.said_at,
  w.reason AS withdrawn
FROM diary_entries e LEFT JOIN diary_withdrawals w ON w.entry_id = e.id
WHERE e.store_id = $1 AND e.id = $2
