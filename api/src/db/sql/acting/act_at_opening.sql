SELECT act_at_opening($1) IS NULL
