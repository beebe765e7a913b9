SELECT DISTINCT ON (r.business_date) r.business_date, r.body
FROM night_revisions r
  LEFT JOIN night_settlements s ON s.store_id = r.store_id AND s.business_date = r.business_date
    AND s.revision = r.revision
WHERE r.store_id = $1 AND r.business_date BETWEEN $2 AND $3 AND ($4 IS NULL OR r.district_id = $4)
  AND (r.state = 'accepted' OR s.outcome = 'accepted')
ORDER BY r.business_date, r.revision DESC
