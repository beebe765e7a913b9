INSERT INTO par_publications (set_code, revision, valid_from, recorded_at, recorded_by, reason,
  rolls_back)
VALUES ($1, $2, $3, $4, $5, $6, $7)
RETURNING id, set_code, revision, valid_from, recorded_at, recorded_by, reason, rolls_back
