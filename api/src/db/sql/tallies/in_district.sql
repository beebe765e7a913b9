SELECT store_id, business_date, rules, district_id, region_id, owner_id, known_at, generation,
  revision, counted, others, packed
FROM nights
WHERE district_id = $1 AND business_date BETWEEN $2 AND $3
