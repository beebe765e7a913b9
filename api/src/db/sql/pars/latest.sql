SELECT set_code, revision, body, recorded_at, recorded_by
FROM par_revisions
WHERE set_code = $1
ORDER BY revision DESC
LIMIT 1
