SELECT DISTINCT r.store_id, r.business_date
FROM night_revisions r
WHERE r.business_date BETWEEN $1 AND $2 AND r.state <> 'accepted' AND r.recorded_at <= $3
  AND NOT EXISTS (
    SELECT FROM night_settlements s
    WHERE s.store_id = r.store_id AND s.business_date = r.business_date AND s.revision = r.revision
      AND s.recorded_at <= $3)
