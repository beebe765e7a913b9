-- Of a scope ($1, with the code $2) and its nights from $4 to $5, and those from $3 on that portions were
-- weighed on: the weeks of $6 that are kept in a form ($7) and still stand by their nights, and the other nights. One of
-- the branches is of the scope; all of it is read as it was at one moment.
WITH here AS MATERIALIZED (
  SELECT store_id, business_date, generation FROM nights
  WHERE $1 = 'store' AND store_id = $2
    AND business_date BETWEEN $3 AND $5 AND (sampled OR business_date >= $4)
  UNION ALL SELECT store_id, business_date, generation FROM nights
  WHERE $1 = 'district' AND district_id = $2
    AND business_date BETWEEN $3 AND $5 AND (sampled OR business_date >= $4)
  UNION ALL SELECT store_id, business_date, generation FROM nights
  WHERE $1 = 'region' AND region_id = $2
    AND business_date BETWEEN $3 AND $5 AND (sampled OR business_date >= $4)
  UNION ALL SELECT store_id, business_date, generation FROM nights
  WHERE $1 = 'owner' AND owner_id = $2
    AND business_date BETWEEN $3 AND $5 AND (sampled OR business_date >= $4)
  UNION ALL SELECT store_id, business_date, generation FROM nights
  WHERE $1 = 'network'
    AND business_date BETWEEN $3 AND $5 AND (sampled OR business_date >= $4)
), stood AS (
  SELECT store_id, week_of(business_date) AS week, count(*) AS nights,
    bit_xor(stands_by(business_date, generation)) AS stands
  FROM here GROUP BY 1, 2
), whole AS MATERIALIZED (
  SELECT store_id, week FROM stood JOIN weeks USING (store_id, week, nights, stands)
  WHERE week = ANY ($6) AND form = $7
)
SELECT store_id, week AS business_date, true AS whole, w.rules, w.district_id, w.region_id,
  '' AS counted, w.codes AS others, w.packed
FROM whole JOIN weeks w USING (store_id, week)
UNION ALL
SELECT store_id, business_date, false, n.rules, n.district_id, n.region_id,
  n.counted, n.others, n.packed
FROM here JOIN nights n USING (store_id, business_date)
-- Whatever the planner makes of the policies, a list that is not to be in is looked up in a hash.
WHERE (here.store_id, week_of(here.business_date)) NOT IN (SELECT w.store_id, w.week FROM whole w)
