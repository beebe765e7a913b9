SELECT business_date, recorded_at, shelves,
  CASE WHEN shelves IS NULL OR business_date = $4 THEN body END AS body
FROM night_revisions
WHERE store_id = $1 AND business_date >= $2 AND recorded_at >= $3
ORDER BY recorded_at DESC
