SELECT pg_advisory_xact_lock(hashtextextended('case ' || $1, 0)) IS NULL
