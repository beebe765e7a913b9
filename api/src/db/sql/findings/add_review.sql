INSERT INTO reviews (zone, as_of, made_at, seen, stores) VALUES ($1, $2, $3, $4, $5) RETURNING id
