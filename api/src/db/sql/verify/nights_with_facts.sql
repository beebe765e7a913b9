SELECT business_date FROM entries WHERE store_id = $1
UNION SELECT business_date FROM night_revisions WHERE store_id = $1
UNION SELECT business_date FROM till_batches WHERE store_id = $1
ORDER BY business_date
