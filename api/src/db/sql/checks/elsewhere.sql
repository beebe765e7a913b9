SELECT store_id, max(recorded_at) AS recorded_at
FROM entries
WHERE recorded_by = $1 AND store_id = ANY ($2) AND business_date >= $3 AND recorded_at >= $4
GROUP BY store_id
UNION ALL
SELECT store_id, max(recorded_at)
FROM night_revisions
WHERE submitted_by = $1 AND store_id = ANY ($2) AND business_date >= $3 AND recorded_at >= $4
GROUP BY store_id
