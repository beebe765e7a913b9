SELECT store_id, business_date, rules, district_id, region_id, owner_id, known_at, generation,
  revision, counted, others, packed,
  EXISTS (SELECT FROM nights later WHERE later.store_id = $1 AND later.business_date > $3) AS later
FROM nights
WHERE store_id = $1 AND business_date >= $2 AND (business_date <= $3 OR reaches <= $3)
ORDER BY business_date
