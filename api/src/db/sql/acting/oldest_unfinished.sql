SELECT min(objid::bigint) AS second
FROM pg_locks
WHERE locktype = 'advisory' AND classid::bigint = $1 AND objsubid = 2 AND pid <> pg_backend_pid()
  AND database = (SELECT oid FROM pg_database WHERE datname = current_database())
