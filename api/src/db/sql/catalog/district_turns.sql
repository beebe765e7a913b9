SELECT DISTINCT ON (code, valid_from) code, valid_from,
  CASE WHEN NOT retired THEN body END AS body
FROM reference_versions
WHERE kind = 'districts' AND code = ANY ($1) AND valid_from <= $2 AND recorded_at <= $3
ORDER BY code, valid_from, recorded_at DESC, id DESC
