SELECT business_date, recorded_at, body
FROM night_revisions
WHERE store_id = $1 AND business_date >= $2 AND recorded_at >= $3
ORDER BY recorded_at DESC
