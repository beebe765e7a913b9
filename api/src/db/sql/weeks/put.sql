INSERT INTO weeks (week, store_id, district_id, region_id, owner_id, rules, form, nights, stands,
  codes, packed)
SELECT * FROM unnest($1::date[], $2::text[], $3::text[], $4::text[], $5::text[], $6::smallint[],
  $7::smallint[], $8::bigint[], $9::bigint[], $10::text[], $11::bytea[])
ON CONFLICT (week, store_id) DO UPDATE SET
  district_id = excluded.district_id,
  region_id = excluded.region_id,
  owner_id = excluded.owner_id,
  rules = excluded.rules,
  form = excluded.form,
  nights = excluded.nights,
  stands = excluded.stands,
  codes = excluded.codes,
  packed = excluded.packed
