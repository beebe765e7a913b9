INSERT INTO par_revisions (set_code, revision, body, recorded_at, recorded_by)
VALUES ($1, $2, $3, $4, $5)
