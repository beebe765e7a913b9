SELECT me.rolname::text AS name, me.rolsuper AS superuser, me.rolbypassrls AS bypasses, EXISTS (
    SELECT FROM pg_roles app
    WHERE app.rolname = 'parings_app' AND pg_has_role(me.oid, app.oid, 'USAGE')
  ) AS serves, (
    SELECT string_agg(further.rolname, ', ' ORDER BY further.rolname)
    FROM pg_roles further
    WHERE further.rolname NOT IN (me.rolname, 'parings_app')
      AND pg_has_role(me.oid, further.oid, 'MEMBER')
  ) AS further
FROM pg_roles me
WHERE me.rolname = current_user
