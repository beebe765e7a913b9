-- A change before the span moves it where a span of use reaches back to it: nights are listed from
-- the earliest opening on.
WITH reach AS (
  SELECT least(min(reaches), $5) AS first
  FROM nights
  WHERE business_date BETWEEN $5 AND $6
    AND coalesce(store_id = $1, true) AND coalesce(district_id = $2, true)
    AND coalesce(region_id = $3, true) AND coalesce(owner_id = $4, true)
), found AS (
  SELECT e.store_id, e.business_date, e.kind, count(*) AS times, max(e.at) AS last_at,
    (array_agg(DISTINCT e.reason) FILTER (WHERE e.reason IS NOT NULL))[1:5] AS reasons
  FROM reach, night_events e
  WHERE e.business_date BETWEEN reach.first AND $6 AND e.at > $7 AND e.at <= $8
    AND coalesce(e.store_id = $1, true) AND coalesce(e.district_id = $2, true)
    AND coalesce(e.region_id = $3, true) AND coalesce(e.owner_id = $4, true)
    AND coalesce((e.business_date, e.store_id) > ($9, $10), true)
  GROUP BY e.store_id, e.business_date, e.kind
)
SELECT store_id, business_date, jsonb_agg(jsonb_build_object('kind', kind, 'times', times,
  'last_at', last_at, 'reasons', coalesce(reasons, '{}')) ORDER BY kind) AS events
FROM found
GROUP BY store_id, business_date
ORDER BY business_date, store_id
LIMIT $11
