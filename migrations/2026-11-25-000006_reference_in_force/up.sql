-- Which version of a store is in force is a fact about all its versions, also those that the
-- acting person may not see: a store that moved to another district is not in its old one merely
-- because its old coach cannot read the newer row. These functions look at every version and give
-- ids and dates; what a version says is then read under the acting person's policies.
CREATE POLICY reference_order ON reference_versions FOR SELECT TO parings_signin
  USING (kind = 'stores');
GRANT SELECT (id, kind, code, valid_from, recorded_at) ON reference_versions TO parings_signin;

-- The version of a store in force on a date, as known at a moment; null when there is none.
CREATE FUNCTION store_in_force(store text, on_date date, known timestamptz) RETURNS bigint
LANGUAGE sql STABLE SECURITY DEFINER SET search_path = public, pg_temp AS $$
  SELECT id FROM reference_versions
  WHERE kind = 'stores' AND code = store AND valid_from <= on_date AND recorded_at <= known
  ORDER BY valid_from DESC, recorded_at DESC, id DESC
  LIMIT 1
$$;

-- The versions of all stores that came into force up to a date, as known at a moment: one for each
-- store and first date.
CREATE FUNCTION store_versions(until date, known timestamptz)
RETURNS TABLE (id bigint, code text, valid_from date)
LANGUAGE sql STABLE SECURITY DEFINER SET search_path = public, pg_temp AS $$
  SELECT DISTINCT ON (v.code, v.valid_from) v.id, v.code, v.valid_from FROM reference_versions v
  WHERE v.kind = 'stores' AND v.valid_from <= until AND v.recorded_at <= known
  ORDER BY v.code, v.valid_from, v.recorded_at DESC, v.id DESC
$$;

GRANT CREATE ON SCHEMA public TO parings_signin;
ALTER FUNCTION store_in_force(text, date, timestamptz) OWNER TO parings_signin;
ALTER FUNCTION store_versions(date, timestamptz) OWNER TO parings_signin;
REVOKE CREATE ON SCHEMA public FROM parings_signin;
REVOKE ALL ON FUNCTION store_in_force(text, date, timestamptz) FROM PUBLIC;
REVOKE ALL ON FUNCTION store_versions(date, timestamptz) FROM PUBLIC;
GRANT EXECUTE ON FUNCTION store_in_force(text, date, timestamptz) TO parings_app;
GRANT EXECUTE ON FUNCTION store_versions(date, timestamptz) TO parings_app;

-- The owner puts the starting values in; row-level security is forced on owners too.
CREATE POLICY reference_start_read ON reference_versions FOR SELECT TO CURRENT_USER USING (true);
CREATE POLICY reference_start_add ON reference_versions FOR INSERT TO CURRENT_USER
  WITH CHECK (recorded_by IS NULL);
