SELECT business_date, body
FROM till_batches
WHERE store_id = $1 AND business_date BETWEEN $2 AND $3 AND ($4 IS NULL OR district_id = $4)
ORDER BY business_date, recorded_at, batch_id
