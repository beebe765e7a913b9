INSERT INTO findings (review_id, store_id, district_id, owner_id, measure, kind, since, size,
  size_low, size_high, money_per_week, rank_low, rank_high, rank_of, evidence, sentence, private)
SELECT $1, store_id, district_id, owner_id, measure, kind, since, size, size_low, size_high,
  money_per_week, rank_low, rank_high, rank_of, evidence, sentence, private
FROM jsonb_populate_recordset(NULL::findings, $2)
