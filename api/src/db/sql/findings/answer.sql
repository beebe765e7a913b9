INSERT INTO finding_answers (store_id, district_id, owner_id, measure, kind, since, said, said_by,
  said_at)
VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9)
