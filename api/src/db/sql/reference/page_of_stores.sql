-- The version that counts may be one that is not to be seen; an older one does not take its place.
SELECT id, kind, code, valid_from, recorded_at, recorded_by, reason, retired, body
FROM reference_versions
WHERE NOT retired AND id IN (
    SELECT DISTINCT ON (code) id
    FROM store_versions($1, $2)
    WHERE code > $3
    ORDER BY code, valid_from DESC)
ORDER BY code
LIMIT $4
