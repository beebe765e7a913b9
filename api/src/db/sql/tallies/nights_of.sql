SELECT business_date, store_id
FROM nights
WHERE business_date BETWEEN $1 AND $2 AND coalesce(store_id = ANY ($3), true)
ORDER BY business_date, store_id
LIMIT $4
