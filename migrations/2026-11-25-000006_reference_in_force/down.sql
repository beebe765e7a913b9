DROP FUNCTION store_in_force(text, date, timestamptz), store_versions(date, timestamptz);
REVOKE SELECT (id, kind, code, valid_from, recorded_at) ON reference_versions FROM parings_signin;
DROP POLICY reference_order ON reference_versions;
DROP POLICY reference_start_read ON reference_versions;
DROP POLICY reference_start_add ON reference_versions;
