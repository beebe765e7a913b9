INSERT INTO night_answers (business_date, store_id, revision, check_id, answer, district_id,
  region_id, owner_id, answered_by, recorded_at, write_id)
VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11)
