SELECT pg_advisory_xact_lock(hashtextextended($1, 0)) IS NULL
