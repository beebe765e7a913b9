SELECT DISTINCT v.valid_from, v.kind, v.code
FROM reference_versions v
WHERE v.valid_from BETWEEN $2 AND $3 AND v.recorded_at <= $4
  AND (v.store_id IS NULL OR v.store_id = $1)
  AND EXISTS (
    SELECT FROM reference_versions before
    WHERE before.kind = v.kind AND before.code = v.code AND before.valid_from < v.valid_from
      AND before.recorded_at <= $4 AND before.body <> v.body)
ORDER BY v.valid_from, v.kind, v.code
