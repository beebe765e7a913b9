SELECT id, set_code, revision, valid_from, recorded_at, recorded_by, reason, rolls_back
FROM par_publications
WHERE recorded_at <= $1
ORDER BY id
