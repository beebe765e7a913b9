-- The versions of stores that ever stood in a district, or belonged to an owner: what
-- `store_versions` gives for all stores, without looking at the others. A roll-up of one district
-- costs the same in a chain of any size.
CREATE INDEX reference_by_district ON reference_versions (district_id) WHERE kind = 'stores';
CREATE INDEX reference_by_owner ON reference_versions (owner_id) WHERE kind = 'stores';
CREATE FUNCTION versions_of_stores(district text, owner text, until date, known timestamptz)
RETURNS TABLE (id bigint, code text, valid_from date)
LANGUAGE sql STABLE SECURITY DEFINER SET search_path = public, pg_temp AS $$
  SELECT DISTINCT ON (v.code, v.valid_from) v.id, v.code, v.valid_from FROM reference_versions v
  WHERE v.kind = 'stores' AND v.valid_from <= until AND v.recorded_at <= known
    AND v.code = ANY (ARRAY(
      SELECT s.code FROM reference_versions s WHERE s.kind = 'stores' AND s.district_id = district
      UNION
      SELECT s.code FROM reference_versions s WHERE s.kind = 'stores' AND s.owner_id = owner))
  ORDER BY v.code, v.valid_from, v.recorded_at DESC, v.id DESC
$$;

GRANT SELECT (district_id, owner_id) ON reference_versions TO parings_signin;
GRANT CREATE ON SCHEMA public TO parings_signin;
ALTER FUNCTION versions_of_stores(text, text, date, timestamptz) OWNER TO parings_signin;
REVOKE CREATE ON SCHEMA public FROM parings_signin;
REVOKE ALL ON FUNCTION versions_of_stores(text, text, date, timestamptz) FROM PUBLIC;
GRANT EXECUTE ON FUNCTION versions_of_stores(text, text, date, timestamptz) TO parings_app;

-- Every roll-up asks which counts wait, for an answer or for approval: few of many.
CREATE INDEX night_revisions_waiting ON night_revisions (business_date, store_id)
  WHERE state <> 'accepted';
DROP INDEX night_revisions_held;
