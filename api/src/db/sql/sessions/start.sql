SELECT start_session($1, $2, $3, $4, $5, $6) AS held
