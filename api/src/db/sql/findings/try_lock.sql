SELECT pg_try_advisory_xact_lock(hashtext('parings nightly')) AS locked
