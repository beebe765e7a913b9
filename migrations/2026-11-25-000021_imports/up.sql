-- Files that head office brought in: one row each, by an id that follows from its content, so that
-- the same file is never taken twice.
CREATE TABLE imports (
  id uuid PRIMARY KEY,
  name text NOT NULL,
  content_hash bytea NOT NULL,
  kind text NOT NULL CHECK (kind IN ('nights', 'entries', 'sales', 'tickets')),
  rows bigint NOT NULL,
  stores bigint NOT NULL,
  nights bigint NOT NULL,
  first_date date NOT NULL,
  last_date date NOT NULL,
  -- Why nights on record were changed, if they might be.
  reason text,
  imported_by uuid NOT NULL,
  imported_at timestamptz NOT NULL
);
ALTER TABLE imports ENABLE ROW LEVEL SECURITY;
ALTER TABLE imports FORCE ROW LEVEL SECURITY;
CREATE POLICY imports_read ON imports FOR SELECT TO parings_app
  USING ((select acting_role()) = 'office');
CREATE POLICY imports_add ON imports FOR INSERT TO parings_app
  WITH CHECK ((select acting_role()) = 'office' AND imported_by = (select acting_person()));
GRANT SELECT, INSERT ON imports TO parings_app;
