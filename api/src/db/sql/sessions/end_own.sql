SELECT end_own_session($1, $2) IS NULL
