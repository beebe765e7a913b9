INSERT INTO writes (id, person_id, operation, content_hash, status, etag, response, recorded_at)
VALUES ($1, $2, $3, $4, $5, $6, $7::json, $8)
