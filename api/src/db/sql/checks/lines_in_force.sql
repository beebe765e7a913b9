SELECT r.business_date, r.recorded_at, r.shelves, CASE WHEN r.shelves IS NULL THEN r.body END AS body
FROM nights n
  JOIN night_revisions r ON r.store_id = n.store_id AND r.business_date = n.business_date
    AND r.revision = n.revision
WHERE n.store_id = $1 AND n.business_date >= $2 AND n.business_date < $3
ORDER BY n.business_date DESC
