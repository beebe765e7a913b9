SELECT act_at_opening($1) IS NULL, pg_advisory_xact_lock_shared($2, $3) IS NULL
