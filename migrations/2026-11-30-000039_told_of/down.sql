-- Who recorded what is told to those who work in the store, by name. People above the manager get
-- no names; an id alone, which they would need to ask for one, they are not given either.
CREATE FUNCTION names_of(asked uuid[]) RETURNS TABLE (id uuid, name text)
LANGUAGE sql STABLE SECURITY DEFINER SET search_path = public, pg_temp AS $$
  SELECT p.id, p.name FROM people p
  WHERE p.id = ANY (asked) AND acting_role() IN ('crew', 'manager')
$$;

-- Taking a function over needs the right to create one, for that moment only.
GRANT CREATE ON SCHEMA public TO parings_signin;
ALTER FUNCTION names_of(uuid[]) OWNER TO parings_signin;
REVOKE CREATE ON SCHEMA public FROM parings_signin;
REVOKE ALL ON FUNCTION names_of(uuid[]) FROM PUBLIC;
GRANT EXECUTE ON FUNCTION names_of(uuid[]) TO parings_app;
DROP FUNCTION told_of(uuid[]);
