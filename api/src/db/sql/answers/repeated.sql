SELECT found.* FROM (
    SELECT asked ->> 'kind' AS kind, coalesce(asked #>> '{about,item}', '') AS item, a.store_id,
      count(DISTINCT a.business_date) AS times, min(a.business_date) AS since,
      max(a.business_date) AS last
    FROM night_answers a
      JOIN night_revisions r USING (business_date, store_id, revision)
      CROSS JOIN LATERAL jsonb_array_elements(r.checks) AS asked
    WHERE a.business_date BETWEEN $1 AND $2
      AND a.answer ->> 'answer' IN ('as_typed', 'counted_again') AND NOT a.answer ? 'lines'
      AND a.check_id = asked ->> 'id'
    GROUP BY 1, 2, 3
  ) AS found
WHERE times >= $3
ORDER BY kind, item, store_id
