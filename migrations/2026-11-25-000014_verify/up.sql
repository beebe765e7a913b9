-- The versions of one store that came into force up to a date, as known at a moment: one for each
-- first date. What `store_versions` gives for all stores, without looking at the others.
CREATE FUNCTION versions_of_store(store text, until date, known timestamptz)
RETURNS TABLE (id bigint, code text, valid_from date)
LANGUAGE sql STABLE SECURITY DEFINER SET search_path = public, pg_temp AS $$
  SELECT DISTINCT ON (v.valid_from) v.id, v.code, v.valid_from FROM reference_versions v
  WHERE v.kind = 'stores' AND v.code = store AND v.valid_from <= until AND v.recorded_at <= known
  ORDER BY v.valid_from, v.recorded_at DESC, v.id DESC
$$;

GRANT CREATE ON SCHEMA public TO parings_signin;
ALTER FUNCTION versions_of_store(text, date, timestamptz) OWNER TO parings_signin;
REVOKE CREATE ON SCHEMA public FROM parings_signin;
REVOKE ALL ON FUNCTION versions_of_store(text, date, timestamptz) FROM PUBLIC;
GRANT EXECUTE ON FUNCTION versions_of_store(text, date, timestamptz) TO parings_app, parings_read;

-- `parings verify` reads facts, reference data and tallies as the read-only role, and asks which
-- version of a store was in force as the server does.
GRANT EXECUTE ON FUNCTION store_in_force(text, date, timestamptz) TO parings_read;
