INSERT INTO case_events (case_id, kind, body, at, by_person) VALUES ($1, $2, $3, $4, $5)
