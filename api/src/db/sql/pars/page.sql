SELECT DISTINCT ON (set_code) set_code, revision, body, recorded_at, recorded_by
FROM par_revisions
WHERE set_code > $1
ORDER BY set_code, revision DESC
LIMIT $2
