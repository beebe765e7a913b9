CREATE INDEX night_revisions_held ON night_revisions (business_date, store_id)
  WHERE state = 'held';
DROP INDEX night_revisions_waiting;
DROP FUNCTION versions_of_stores(text, text, date, timestamptz);
REVOKE SELECT (district_id, owner_id) ON reference_versions FROM parings_signin;
DROP INDEX reference_by_owner;
DROP INDEX reference_by_district;
