SELECT id, kind, code, valid_from, recorded_at, recorded_by, reason, retired, body
FROM reference_versions
WHERE NOT retired AND id IN (
    SELECT DISTINCT ON (code) id
    FROM reference_versions
    WHERE kind = $1 AND valid_from <= $2 AND recorded_at <= $3 AND code > $4
    ORDER BY code, valid_from DESC, recorded_at DESC, id DESC)
ORDER BY code
LIMIT $5
