INSERT INTO till_batches (business_date, store_id, district_id, region_id, owner_id, sent_by,
  recorded_at, write_id, batch_id, body)
SELECT *
FROM unnest($1::date[], $2::text[], $3::text[], $4::text[], $5::text[], $6::uuid[],
  $7::timestamptz[], $8::uuid[], $9::text[], $10::jsonb[])
