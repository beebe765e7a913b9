-- The weeks of a store that are kept in a form ($2), as far as they still stand by their nights.
SELECT week, w.store_id, w.district_id, w.region_id, w.owner_id, w.rules, w.form, nights,
  stands, w.codes, w.packed
FROM weeks w JOIN (
  SELECT week_of(business_date) AS week, count(*) AS nights,
    bit_xor(stands_by(business_date, generation)) AS stands
  FROM nights WHERE store_id = $1
  GROUP BY 1
) stood USING (week, nights, stands)
WHERE w.store_id = $1 AND w.form = $2
ORDER BY week
