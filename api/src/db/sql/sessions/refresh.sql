SELECT outcome, person_id, session FROM refresh_session($1, $2, $3, $4, $5)
