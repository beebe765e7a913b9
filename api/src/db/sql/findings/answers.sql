SELECT store_id, measure, kind, since, said, said_by, said_at
FROM finding_answers
WHERE store_id = ANY ($1) AND since >= $2
ORDER BY id
