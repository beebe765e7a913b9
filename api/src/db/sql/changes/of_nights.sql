SELECT business_date, kind, what, at, person, reason,
  coalesce(kind IN ('entry', 'withdrawal', 'till_batch')
    AND at > first_accepted(store_id, business_date), false) AS late
FROM night_events
WHERE store_id = $1 AND business_date BETWEEN $2 AND $3 AND at > $4 AND at <= $5
ORDER BY at, business_date, kind, id
LIMIT $6
