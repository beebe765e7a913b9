SELECT known_at
FROM night_pins
WHERE store_id = $1 AND business_date = $2 AND recorded_at <= $3
ORDER BY recorded_at DESC, known_at DESC
LIMIT 1
