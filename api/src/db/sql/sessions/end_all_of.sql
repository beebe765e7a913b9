SELECT end_sessions_of($1, $2, $3) IS NULL
