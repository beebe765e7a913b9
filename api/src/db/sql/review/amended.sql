WITH accepted AS (
  SELECT r.store_id, r.business_date, min(r.revision) AS earliest, max(r.revision) AS latest
  FROM night_revisions r
    LEFT JOIN night_settlements s USING (store_id, business_date, revision)
  WHERE r.business_date BETWEEN $1 AND $2 AND (r.state = 'accepted' OR s.outcome = 'accepted')
  GROUP BY r.store_id, r.business_date
  HAVING count(*) > 1
)
SELECT a.store_id, a.business_date, earliest.body AS first, latest.body AS last
FROM accepted a
  JOIN night_revisions earliest ON earliest.store_id = a.store_id
    AND earliest.business_date = a.business_date AND earliest.revision = a.earliest
  JOIN night_revisions latest ON latest.store_id = a.store_id
    AND latest.business_date = a.business_date AND latest.revision = a.latest
ORDER BY a.store_id, a.business_date
