SELECT f.id, r.as_of, r.made_at, f.store_id, f.district_id, f.owner_id, f.measure, f.kind, f.since,
  f.size, f.size_low, f.size_high, f.money_per_week, f.rank_low, f.rank_high, f.rank_of, f.evidence,
  f.sentence, f.private
FROM findings f JOIN reviews r ON r.id = f.review_id
WHERE f.id = $1
