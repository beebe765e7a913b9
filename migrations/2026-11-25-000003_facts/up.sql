-- Facts: what somebody recorded. Append-only. Each row carries the store's place in the hierarchy
-- on its business date, which is what the policies compare: a store that moves leaves its past.

-- Ids of writes, kept for ever and looked up before anything else: a resend with the same content
-- is answered with the first response.
CREATE TABLE writes (
  id uuid PRIMARY KEY,
  person_id uuid NOT NULL,
  operation text NOT NULL,
  content_hash bytea NOT NULL,
  status smallint NOT NULL,
  etag text,
  response jsonb NOT NULL,
  recorded_at timestamptz NOT NULL
);

-- Ids of entries, unique for ever (a partitioned table cannot promise that).
CREATE TABLE entry_ids (
  id uuid PRIMARY KEY,
  store_id text NOT NULL,
  business_date date NOT NULL
);

-- What was recorded through the day: waste, deliveries, transfers, batches, stock-outs, samples.
CREATE TABLE entries (
  business_date date NOT NULL,
  store_id text NOT NULL,
  id uuid NOT NULL,
  kind text NOT NULL,
  body jsonb NOT NULL,
  district_id text NOT NULL,
  region_id text NOT NULL,
  owner_id text NOT NULL,
  recorded_by uuid NOT NULL,
  recorded_at timestamptz NOT NULL,
  write_id uuid NOT NULL,
  PRIMARY KEY (business_date, store_id, id)
) PARTITION BY RANGE (business_date);

-- An entry taken back stays where it is; this row says by whom and why.
CREATE TABLE entry_withdrawals (
  entry_id uuid PRIMARY KEY,
  business_date date NOT NULL,
  store_id text NOT NULL,
  district_id text NOT NULL,
  region_id text NOT NULL,
  owner_id text NOT NULL,
  reason text NOT NULL CHECK (reason <> ''),
  withdrawn_by uuid NOT NULL,
  withdrawn_at timestamptz NOT NULL
);
CREATE INDEX entry_withdrawals_night ON entry_withdrawals (store_id, business_date);

-- The closing count of a night: one document a revision.
CREATE TABLE night_revisions (
  business_date date NOT NULL,
  store_id text NOT NULL,
  revision integer NOT NULL CHECK (revision >= 1),
  body jsonb NOT NULL,
  reason text,
  district_id text NOT NULL,
  region_id text NOT NULL,
  owner_id text NOT NULL,
  submitted_by uuid NOT NULL,
  recorded_at timestamptz NOT NULL,
  write_id uuid NOT NULL,
  PRIMARY KEY (business_date, store_id, revision)
) PARTITION BY RANGE (business_date);

-- Sales and tickets as the till sent them: one document a batch, under the till's own id.
CREATE TABLE till_batches (
  business_date date NOT NULL,
  store_id text NOT NULL,
  batch_id text NOT NULL,
  body jsonb NOT NULL,
  district_id text NOT NULL,
  region_id text NOT NULL,
  owner_id text NOT NULL,
  sent_by uuid NOT NULL,
  recorded_at timestamptz NOT NULL,
  write_id uuid NOT NULL,
  PRIMARY KEY (business_date, store_id, batch_id)
) PARTITION BY RANGE (business_date);

-- Creates the monthly partitions that hold the days from `earliest` to `latest`. The owner's job;
-- nobody but the owner is granted anything on a partition.
CREATE FUNCTION make_partitions(earliest date, latest date) RETURNS integer
LANGUAGE plpgsql AS $$
DECLARE
  parent regclass;
  month date;
  part text;
  made integer := 0;
BEGIN
  FOR parent IN
    SELECT c.oid FROM pg_class c WHERE c.relkind = 'p' AND c.relnamespace = 'public'::regnamespace
  LOOP
    month := date_trunc('month', earliest);
    WHILE month <= latest LOOP
      part := format('%s_%s', parent::text, to_char(month, 'YYYY_MM'));
      IF to_regclass(part) IS NULL THEN
        EXECUTE format('CREATE TABLE %I PARTITION OF %s FOR VALUES FROM (%L) TO (%L)',
          part, parent, month, (month + interval '1 month')::date);
        made := made + 1;
      END IF;
      month := month + interval '1 month';
    END LOOP;
  END LOOP;
  RETURN made;
END
$$;
REVOKE ALL ON FUNCTION make_partitions(date, date) FROM PUBLIC;

ALTER TABLE writes ENABLE ROW LEVEL SECURITY;
ALTER TABLE writes FORCE ROW LEVEL SECURITY;
CREATE POLICY writes_read ON writes FOR SELECT TO parings_app
  USING (person_id = (select acting_person()));
CREATE POLICY writes_add ON writes FOR INSERT TO parings_app
  WITH CHECK (person_id = (select acting_person()));
GRANT SELECT, INSERT ON writes TO parings_app;

-- An id alone tells nothing, so anybody who acts may see that it is taken.
ALTER TABLE entry_ids ENABLE ROW LEVEL SECURITY;
ALTER TABLE entry_ids FORCE ROW LEVEL SECURITY;
CREATE POLICY entry_ids_read ON entry_ids FOR SELECT TO parings_app
  USING ((select acting_role()) IN ('office', 'rules')
    OR store_id = ANY ((select acting_stores())::text[]));
CREATE POLICY entry_ids_add ON entry_ids FOR INSERT TO parings_app
  WITH CHECK ((select acting_role()) = 'office'
    OR (select acting_role()) IN ('crew', 'manager')
      AND store_id = ANY ((select acting_stores())::text[]));
GRANT SELECT, INSERT ON entry_ids TO parings_app;

-- Reading and adding, table by table: who may is the printed matrix of the policy in core.
-- 'rules' is the part the server takes, for one store, to derive tallies from facts.
DO $$
DECLARE
  fact record;
BEGIN
  FOR fact IN
    SELECT * FROM (VALUES
      ('entries', '{crew,manager,coach,owner,office}', '{crew,manager,office}'),
      ('entry_withdrawals', '{crew,manager,coach,owner,office}', '{crew,manager,office}'),
      ('night_revisions', '{manager,coach,owner,office}', '{manager,office}'),
      ('till_batches', '{manager,coach,owner,office,till}', '{till,office}')
    ) AS f (name, readers, writers)
  LOOP
    EXECUTE format('ALTER TABLE %I ENABLE ROW LEVEL SECURITY', fact.name);
    EXECUTE format('ALTER TABLE %I FORCE ROW LEVEL SECURITY', fact.name);
    EXECUTE format(
      'CREATE POLICY %I ON %I FOR SELECT TO parings_app USING (
         (select acting_role()) = ''office''
         OR (select acting_role()) = ''rules'' AND store_id = ANY ((select acting_stores())::text[])
         OR (select acting_role()) = ANY (%L::text[]) AND (
           store_id = ANY ((select acting_stores())::text[])
           OR district_id = ANY ((select acting_districts())::text[])
           OR owner_id = ANY ((select acting_owners())::text[])))',
      fact.name || '_read', fact.name, fact.readers);
    EXECUTE format(
      'CREATE POLICY %I ON %I FOR INSERT TO parings_app WITH CHECK (
         (select acting_role()) = ''office''
         OR (select acting_role()) = ANY (%L::text[])
           AND store_id = ANY ((select acting_stores())::text[]))',
      fact.name || '_add', fact.name, fact.writers);
    EXECUTE format('CREATE POLICY %I ON %I FOR SELECT TO parings_read USING (true)',
      fact.name || '_verify', fact.name);
    EXECUTE format('GRANT SELECT, INSERT ON %I TO parings_app', fact.name);
    EXECUTE format('GRANT SELECT ON %I TO parings_read', fact.name);
  END LOOP;
END
$$;

-- Lets the acting person hand over to the rules, for one store they may write to (or all, office).
CREATE FUNCTION act_for_rules(store text) RETURNS void LANGUAGE plpgsql AS $$
BEGIN
  IF acting_role() <> 'office'
     AND NOT (acting_role() IN ('crew', 'manager', 'till') AND store = ANY (acting_stores())) THEN
    RAISE insufficient_privilege USING MESSAGE = 'the acting person may not write to this store';
  END IF;
  PERFORM set_config('parings.role', 'rules', true), set_config('parings.stores', store, true),
    set_config('parings.districts', '', true), set_config('parings.owners', '', true);
END
$$;
