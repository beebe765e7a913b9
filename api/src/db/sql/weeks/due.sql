-- The weeks that ended before a date ($1) and are not kept in a form ($2) as their nights stand now.
SELECT store_id, week
FROM (
  SELECT store_id, week_of(business_date) AS week, count(*) AS nights,
    bit_xor(stands_by(business_date, generation)) AS stands
  FROM nights WHERE business_date < week_of($1)
  GROUP BY 1, 2
) stood
WHERE NOT EXISTS (
  SELECT FROM weeks w
  WHERE (w.store_id, w.week, w.nights, w.stands, w.form)
    = (stood.store_id, stood.week, stood.nights, stood.stands, $2))
ORDER BY store_id, week
