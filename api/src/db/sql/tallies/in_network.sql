SELECT store_id, business_date, rules, district_id, region_id, owner_id, known_at, generation,
  revision, counted, others, packed
FROM nights
WHERE business_date BETWEEN $1 AND $2
