INSERT INTO night_pins (business_date, store_id, district_id, region_id, owner_id, rules, known_at,
  recorded_at)
SELECT *
FROM unnest($1::date[], $2::text[], $3::text[], $4::text[], $5::text[], $6::smallint[],
  $7::timestamptz[], $8::timestamptz[])
