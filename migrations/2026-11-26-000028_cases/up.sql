-- Cases: what a coach does about a finding. What was seen when a case was raised stays as it was seen;
-- what happened since is added. A case stands in the district where its store stands now, which the
-- server puts right by itself when a store moves; nothing else of it is ever changed.
CREATE TABLE cases (
  id uuid PRIMARY KEY DEFAULT gen_random_uuid(),
  store_id text NOT NULL,
  district_id text NOT NULL,
  -- Whose store it was when the case was raised.
  owner_id text NOT NULL,
  measure text NOT NULL,
  kind text NOT NULL,
  as_of date NOT NULL,
  since date NOT NULL,
  size double precision NOT NULL,
  money_per_week double precision,
  -- The finding as it was told.
  seen jsonb NOT NULL,
  raised_at timestamptz NOT NULL,
  -- The district it was raised in: which coach's week it belongs to.
  raised_in text NOT NULL
);
CREATE INDEX cases_of_store ON cases (store_id);
CREATE INDEX cases_of_district ON cases (district_id);

CREATE TABLE case_events (
  id bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
  case_id uuid NOT NULL REFERENCES cases (id),
  kind text NOT NULL,
  body jsonb NOT NULL,
  at timestamptz NOT NULL,
  -- Nobody, when the server looked again or a store moved.
  by_person uuid
);
CREATE INDEX case_events_of ON case_events (case_id, id);

ALTER TABLE cases ENABLE ROW LEVEL SECURITY;
ALTER TABLE cases FORCE ROW LEVEL SECURITY;
ALTER TABLE case_events ENABLE ROW LEVEL SECURITY;
ALTER TABLE case_events FORCE ROW LEVEL SECURITY;

CREATE POLICY cases_read ON cases FOR SELECT TO parings_app
  USING ((select acting_role()) IN ('office', 'nightly')
    OR (select acting_role()) = 'coach' AND district_id = ANY ((select acting_districts())::text[])
    OR (select acting_role()) = 'owner' AND owner_id = ANY ((select acting_owners())::text[])
    OR (select acting_role()) = 'manager' AND store_id = ANY ((select acting_stores())::text[]));
CREATE POLICY cases_raise ON cases FOR INSERT TO parings_app
  WITH CHECK ((select acting_role()) = 'nightly');
CREATE POLICY cases_follow ON cases FOR UPDATE TO parings_app
  USING ((select acting_role()) = 'nightly') WITH CHECK ((select acting_role()) = 'nightly');

-- What happened to a case is read by who reads the case.
CREATE POLICY case_events_read ON case_events FOR SELECT TO parings_app
  USING (EXISTS (SELECT FROM cases c WHERE c.id = case_id));
CREATE POLICY case_events_add ON case_events FOR INSERT TO parings_app
  WITH CHECK (EXISTS (SELECT FROM cases c WHERE c.id = case_id)
    AND CASE (select acting_role())
      WHEN 'nightly' THEN kind IN ('checked', 'moved') AND by_person IS NULL
      WHEN 'manager' THEN kind = 'answered' AND by_person = (select acting_person())
      WHEN 'coach' THEN kind IN ('visited', 'promised', 'kept', 'dismissed')
        AND by_person = (select acting_person())
      WHEN 'office' THEN kind IN ('visited', 'promised', 'kept', 'dismissed')
        AND by_person = (select acting_person())
      ELSE false
    END);
CREATE POLICY cases_verify ON cases FOR SELECT TO parings_read USING (true);
CREATE POLICY case_events_verify ON case_events FOR SELECT TO parings_read USING (true);
GRANT SELECT, INSERT ON cases, case_events TO parings_app;
GRANT UPDATE (district_id) ON cases TO parings_app;
GRANT SELECT ON cases, case_events TO parings_read;
