INSERT INTO night_revisions (business_date, store_id, district_id, region_id, owner_id, submitted_by,
  recorded_at, write_id, revision, body, shelves, reason, state, checks)
SELECT *
FROM unnest($1::date[], $2::text[], $3::text[], $4::text[], $5::text[], $6::uuid[],
  $7::timestamptz[], $8::uuid[], $9::integer[], $10::jsonb[], $11::bytea[], $12::text[], $13::text[],
  $14::jsonb[])
