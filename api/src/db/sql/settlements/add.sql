INSERT INTO night_settlements (business_date, store_id, revision, outcome, left_out, reason,
  district_id, region_id, owner_id, settled_by, recorded_at)
VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11)
