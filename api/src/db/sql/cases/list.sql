SELECT id, store_id, district_id, owner_id, measure, kind, as_of, since, size, money_per_week, seen,
  raised_at, raised_in
FROM cases
WHERE ($1 IS NULL OR district_id = $1)
  AND ($2 IS NULL OR store_id = $2)
  AND ($3 IS NULL OR id = $3)
  AND ($4 IS NULL OR raised_at >= $4)
  AND ($6 IS NULL OR (raised_at, id) < ($5, $6))
ORDER BY raised_at DESC, id DESC
LIMIT $7
