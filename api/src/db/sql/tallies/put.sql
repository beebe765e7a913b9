INSERT INTO nights (business_date, store_id, rules, district_id, region_id, owner_id, known_at,
  revision, reaches, sampled, counted, others, packed, generation)
SELECT *, nextval('night_generations')
FROM unnest($1::date[], $2::text[], $3::smallint[], $4::text[], $5::text[], $6::text[],
  $7::timestamptz[], $8::integer[], $9::date[], $10::boolean[], $11::text[], $12::text[],
  $13::bytea[])
ON CONFLICT (store_id, business_date) DO UPDATE SET
  rules = excluded.rules,
  district_id = excluded.district_id,
  region_id = excluded.region_id,
  owner_id = excluded.owner_id,
  known_at = excluded.known_at,
  generation = excluded.generation,
  revision = excluded.revision,
  reaches = excluded.reaches,
  sampled = excluded.sampled,
  counted = excluded.counted,
  others = excluded.others,
  packed = excluded.packed
