-- Nothing takes or waits longer than this, and a statement is planned once for all its values.
SELECT set_config('statement_timeout', $1, false),
  set_config('lock_timeout', $1, false),
  set_config('idle_in_transaction_session_timeout', '60s', false),
  set_config('TimeZone', 'UTC', false),
  set_config('plan_cache_mode', 'force_generic_plan', false)
