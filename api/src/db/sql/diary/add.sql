INSERT INTO diary_entries (id, store_id, district_id, owner_id, kind, from_date, to_date,
  sets_aside, said, said_by, said_at)
VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11)
