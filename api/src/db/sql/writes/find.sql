SELECT operation, content_hash, status, etag, response::text AS response FROM writes WHERE id = $1
