INSERT INTO entry_withdrawals (entry_id, business_date, store_id, district_id, region_id, owner_id,
  reason, withdrawn_by, withdrawn_at)
VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9)
ON CONFLICT DO NOTHING
