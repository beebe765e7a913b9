SELECT r.revision, r.body, r.reason, r.state, r.checks, r.proposal, r.submitted_by, r.recorded_at,
  s.outcome, s.left_out, s.reason AS settled_reason, s.settled_by, s.recorded_at AS settled_at, (
    SELECT coalesce(jsonb_agg(jsonb_build_object('check', a.check_id, 'answer', a.answer,
      'by', a.answered_by, 'at', a.recorded_at) ORDER BY a.recorded_at, a.check_id), '[]')
    FROM night_answers a
    WHERE a.store_id = r.store_id AND a.business_date = r.business_date AND a.revision = r.revision
  ) AS answers
FROM night_revisions r
  LEFT JOIN night_settlements s ON s.store_id = r.store_id AND s.business_date = r.business_date
    AND s.revision = r.revision
WHERE r.store_id = $1 AND r.business_date = $2
ORDER BY r.revision
