SELECT (
    SELECT coalesce(jsonb_agg(jsonb_build_object('id', e.id, 'body', e.body)
      ORDER BY e.recorded_at, e.id), '[]')
    FROM entries e
    WHERE e.store_id = $1 AND e.business_date = $2 AND e.recorded_at <= $3
      AND NOT EXISTS (
        SELECT FROM entry_withdrawals w WHERE w.entry_id = e.id AND w.withdrawn_at <= $3)
  ) AS entries, (
    SELECT coalesce(jsonb_agg(b.body ORDER BY b.recorded_at, b.batch_id), '[]')
    FROM till_batches b
    WHERE b.store_id = $1 AND b.business_date = $2 AND b.recorded_at <= $3
  ) AS till,
  night.count, night.revision, night.left_out
FROM (SELECT) AS always LEFT JOIN (
    SELECT r.body AS count, r.revision, s.left_out
    FROM night_revisions r
      LEFT JOIN night_settlements s ON s.store_id = r.store_id
        AND s.business_date = r.business_date AND s.revision = r.revision AND s.recorded_at <= $3
    WHERE r.store_id = $1 AND r.business_date = $2 AND r.recorded_at <= $3
      AND (r.state = 'accepted' OR s.outcome = 'accepted')
    ORDER BY r.revision DESC LIMIT 1
  ) AS night ON true
