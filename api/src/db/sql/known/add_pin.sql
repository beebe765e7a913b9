INSERT INTO night_pins (business_date, store_id, rules, known_at, recorded_at, reason, district_id,
  region_id, owner_id)
VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9)
