INSERT INTO till_batches (business_date, store_id, batch_id, body, district_id, region_id, owner_id,
  sent_by, recorded_at, write_id)
VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10)
ON CONFLICT DO NOTHING
