SELECT set_code, revision, body, recorded_at, recorded_by
FROM par_revisions
WHERE set_code = $1 AND revision = $2
