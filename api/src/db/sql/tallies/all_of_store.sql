SELECT store_id, business_date, rules, district_id, region_id, owner_id, known_at, generation,
  revision, counted, others, packed
FROM nights
WHERE store_id = $1
ORDER BY business_date
