SELECT (SELECT known_at FROM nights WHERE store_id = $1 AND business_date = $2) AS known_at
