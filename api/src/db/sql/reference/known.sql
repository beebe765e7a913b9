SELECT CASE
    WHEN pg_try_advisory_xact_lock_shared($1) THEN $2
    ELSE (SELECT max(recorded_at) FROM reference_versions)
  END AS at
