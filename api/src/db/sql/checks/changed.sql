SELECT v.id, v.kind, v.code, v.valid_from, v.recorded_at, v.recorded_by, v.reason, v.retired, v.body
FROM reference_versions v
WHERE v.kind IN ('prices', 'products') AND NOT v.retired
  AND v.valid_from > $1 AND v.valid_from <= $2 AND v.recorded_at <= $3
  AND EXISTS (
    SELECT FROM reference_versions before
    WHERE before.kind = v.kind AND before.code = v.code
      AND before.valid_from < v.valid_from AND before.recorded_at <= $3)
