SELECT person_id, session FROM end_session($1, $2)
