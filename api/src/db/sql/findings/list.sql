SELECT f.id, r.as_of, r.made_at, f.store_id, f.district_id, f.owner_id, f.measure, f.kind, f.since,
  f.size, f.size_low, f.size_high, f.money_per_week, f.rank_low, f.rank_high, f.rank_of, f.evidence,
  f.sentence, f.private
FROM findings f JOIN reviews r ON r.id = f.review_id
WHERE f.review_id IN (SELECT reviews_in_force($1, $2))
  AND ($3 IS NULL OR f.district_id = $3)
  AND ($4 IS NULL OR f.store_id = $4)
  AND ($5 IS NULL OR f.kind = $5)
  AND ($7 IS NULL OR (coalesce(-f.money_per_week, 'infinity'), f.id) > ($6, $7))
ORDER BY coalesce(-f.money_per_week, 'infinity'), f.id
LIMIT $8
