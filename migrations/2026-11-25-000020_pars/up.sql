-- Standard pars. A set is a document that is revised as a whole; every revision stays. It takes effect
-- by a publication, from a business date on. In force on a date as known at a moment: of the
-- publications recorded by then and valid by then, the one valid latest, then recorded last. A
-- roll-back is one more of them, and names the one it takes back. Rows are never changed.
CREATE TABLE par_revisions (
  set_code text NOT NULL,
  revision integer NOT NULL CHECK (revision > 0),
  body jsonb NOT NULL,
  recorded_at timestamptz NOT NULL,
  recorded_by uuid NOT NULL,
  PRIMARY KEY (set_code, revision)
);

CREATE TABLE par_publications (
  id bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
  set_code text NOT NULL,
  revision integer NOT NULL,
  valid_from date NOT NULL,
  recorded_at timestamptz NOT NULL,
  recorded_by uuid NOT NULL,
  reason text NOT NULL,
  rolls_back bigint REFERENCES par_publications (id),
  FOREIGN KEY (set_code, revision) REFERENCES par_revisions (set_code, revision)
);
CREATE INDEX par_publications_of ON par_publications (set_code, revision);

ALTER TABLE par_revisions ENABLE ROW LEVEL SECURITY;
ALTER TABLE par_revisions FORCE ROW LEVEL SECURITY;
ALTER TABLE par_publications ENABLE ROW LEVEL SECURITY;
ALTER TABLE par_publications FORCE ROW LEVEL SECURITY;

CREATE POLICY par_publications_read ON par_publications FOR SELECT TO parings_app
  USING ((select acting_role()) IN ('crew', 'manager', 'coach', 'owner', 'office'));
CREATE POLICY par_publications_add ON par_publications FOR INSERT TO parings_app
  WITH CHECK ((select acting_role()) = 'office' AND recorded_by = (select acting_person()));
CREATE POLICY par_publications_verify ON par_publications FOR SELECT TO parings_read USING (true);

-- What is drafted is head office's; what was ever published is for those who work by it.
CREATE POLICY par_revisions_read ON par_revisions FOR SELECT TO parings_app
  USING ((select acting_role()) = 'office'
    OR (select acting_role()) IN ('crew', 'manager', 'coach', 'owner')
      AND EXISTS (SELECT FROM par_publications p
        WHERE p.set_code = par_revisions.set_code AND p.revision = par_revisions.revision));
CREATE POLICY par_revisions_add ON par_revisions FOR INSERT TO parings_app
  WITH CHECK ((select acting_role()) = 'office' AND recorded_by = (select acting_person()));
CREATE POLICY par_revisions_verify ON par_revisions FOR SELECT TO parings_read USING (true);

GRANT SELECT, INSERT ON par_revisions, par_publications TO parings_app;
GRANT SELECT ON par_revisions, par_publications TO parings_read;

-- Lets whoever may read a store's pars work out what is on hand there. Crew may not read counts, so
-- the rules look, in a transaction that only reads from here on; what is shown of it is for the
-- server to choose.
CREATE FUNCTION act_for_prep(store text) RETURNS void LANGUAGE plpgsql AS $$
BEGIN
  IF acting_role() NOT IN ('crew', 'manager', 'coach', 'owner', 'office')
     OR NOT EXISTS (SELECT FROM reference_versions v WHERE v.kind = 'stores' AND v.code = store) THEN
    RAISE insufficient_privilege USING MESSAGE = 'the acting person may not read this store';
  END IF;
  PERFORM set_config('transaction_read_only', 'on', true), set_config('parings.role', 'rules', true),
    set_config('parings.stores', store, true), set_config('parings.districts', '', true),
    set_config('parings.owners', '', true);
END
$$;
