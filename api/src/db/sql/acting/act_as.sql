SELECT name, role, places, pg_advisory_xact_lock_shared($3, $4) IS NULL AS noted
FROM act_as($1, $2)
