SELECT e.id, e.store_id, e.kind, e.from_date, e.to_date, e.sets_aside, e.said, e.said_by, e.said_at,
  w.reason AS withdrawn
FROM diary_entries e LEFT JOIN diary_withdrawals w ON w.entry_id = e.id
WHERE e.store_id = $1 AND e.to_date >= $2 AND e.from_date <= $3
  AND ($5 IS NULL OR (e.from_date, e.id) > ($4, $5))
ORDER BY e.from_date, e.id
LIMIT $6
