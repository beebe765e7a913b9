-- Reference data: what head office sets. One row a version: from `valid_from` on, as far as was
-- known from `recorded_at` on, the thing called `code` was `body`. In force on a date as known at a
-- moment: of the rows recorded by then and valid by then, the one valid latest, then recorded latest.
-- Rows are never changed; a correction is a later row with the same or an earlier `valid_from` and
-- a reason.
CREATE TABLE reference_versions (
  id bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
  kind text NOT NULL,
  code text NOT NULL,
  valid_from date NOT NULL,
  recorded_at timestamptz NOT NULL,
  recorded_by uuid,
  reason text,
  retired boolean NOT NULL DEFAULT false,
  body jsonb NOT NULL,
  -- Of a store, for the policies; null for what is everybody's.
  store_id text,
  district_id text,
  owner_id text
);
CREATE INDEX reference_in_force
  ON reference_versions (kind, code, valid_from DESC, recorded_at DESC, id DESC);

ALTER TABLE reference_versions ENABLE ROW LEVEL SECURITY;
ALTER TABLE reference_versions FORCE ROW LEVEL SECURITY;
CREATE POLICY reference_read ON reference_versions FOR SELECT TO parings_app
  USING ((select acting_role()) IN ('office', 'rules')
    OR store_id IS NULL AND (select acting_role()) <> ''
    OR store_id = ANY ((select acting_stores())::text[])
    OR district_id = ANY ((select acting_districts())::text[])
    OR owner_id = ANY ((select acting_owners())::text[]));
CREATE POLICY reference_add ON reference_versions FOR INSERT TO parings_app
  WITH CHECK ((select acting_role()) = 'office');
CREATE POLICY reference_verify ON reference_versions FOR SELECT TO parings_read USING (true);
GRANT SELECT, INSERT ON reference_versions TO parings_app;
GRANT SELECT ON reference_versions TO parings_read;
