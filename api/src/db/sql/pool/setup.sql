-- Nothing takes or waits longer than this, and a statement is planned once for all its values. Long values,
-- as the answer to a night, are compressed in the quicker way where PostgreSQL was built with it.
SELECT set_config('statement_timeout', $1, false),
  set_config('lock_timeout', $1, false),
  set_config('idle_in_transaction_session_timeout', '60s', false),
  set_config('TimeZone', 'UTC', false),
  set_config('plan_cache_mode', 'force_generic_plan', false),
  (SELECT set_config(name, 'lz4', false) FROM pg_settings
   WHERE name = 'default_toast_compression' AND 'lz4' = ANY (enumvals))
