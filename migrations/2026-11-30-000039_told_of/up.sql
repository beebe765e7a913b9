-- Who somebody is goes to those who work beside them and to their manager: people of a store to each
-- other, managers also to coaches and owners, coaches and owners to each other and to head office. Nobody
-- is told who looks at them from above. What is told, the server decides by the same rule, of the part
-- that somebody plays today.
CREATE FUNCTION told_of(asked uuid[]) RETURNS TABLE (id uuid, name text, role text, places text[])
LANGUAGE sql STABLE SECURITY DEFINER SET search_path = public, pg_temp AS $$
  SELECT p.id, p.name, p.role, p.places FROM people p
  WHERE p.id = ANY (asked) AND CASE
    WHEN acting_role() IN ('crew', 'manager', 'till') THEN p.role IN ('crew', 'manager', 'till')
    WHEN acting_role() IN ('coach', 'owner') THEN p.role IN ('manager', 'coach', 'owner')
    WHEN acting_role() = 'office' THEN p.role IN ('coach', 'owner', 'office')
    ELSE false
  END
$$;

-- Taking a function over needs the right to create one, for that moment only.
GRANT CREATE ON SCHEMA public TO parings_signin;
ALTER FUNCTION told_of(uuid[]) OWNER TO parings_signin;
REVOKE CREATE ON SCHEMA public FROM parings_signin;
REVOKE ALL ON FUNCTION told_of(uuid[]) FROM PUBLIC;
GRANT EXECUTE ON FUNCTION told_of(uuid[]) TO parings_app;
DROP FUNCTION names_of(uuid[]);
