SELECT DISTINCT ON (kind, code, greatest(valid_from, $1))
  id, kind, code, valid_from, recorded_at, recorded_by, reason, retired, body
FROM reference_versions
ORDER BY kind, code, greatest(valid_from, $1), valid_from DESC, recorded_at DESC, id DESC
