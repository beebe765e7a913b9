SELECT DISTINCT business_date AS date
FROM till_batches
WHERE store_id = $1 AND business_date = ANY ($2) AND jsonb_array_length(body -> $3) > 0
ORDER BY business_date
