SELECT case_id, kind, body, at, by_person FROM case_events WHERE case_id = ANY ($1) ORDER BY id
