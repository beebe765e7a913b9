-- The nights of some weeks of a store, with what their week stands by.
SELECT n.store_id, n.business_date, n.rules, n.district_id, n.region_id, n.owner_id, n.known_at,
  n.generation, n.revision, n.counted, n.others, n.packed, week,
  count(*) OVER same_week AS nights,
  bit_xor(stands_by(n.business_date, n.generation)) OVER same_week AS stands
FROM unnest($2::date[]) AS week
  JOIN nights n ON n.store_id = $1 AND n.business_date BETWEEN week AND week + 6
WINDOW same_week AS (PARTITION BY week)
ORDER BY n.business_date
