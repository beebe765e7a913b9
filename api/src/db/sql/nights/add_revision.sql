INSERT INTO night_revisions (business_date, store_id, revision, body, reason, state, checks,
  proposal, shelves, district_id, region_id, owner_id, submitted_by, recorded_at, write_id)
VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14, $15)
