-- The life of a night's count: accepted at once, held until somebody answered, or proposed after the
-- lock until another person approved. A revision is kept as it came, whatever becomes of it.

ALTER TABLE night_revisions
  ADD COLUMN state text NOT NULL DEFAULT 'accepted'
    CHECK (state IN ('accepted', 'held', 'proposed')),
  -- What was asked, said or left out when it came.
  ADD COLUMN checks jsonb NOT NULL DEFAULT '[]',
  -- Of a proposed one: entries to be made and withdrawn with it.
  ADD COLUMN proposal jsonb;
ALTER TABLE night_revisions ALTER COLUMN state DROP DEFAULT;

-- What became of a revision that was held or proposed. One row, never changed.
CREATE TABLE night_settlements (
  business_date date NOT NULL,
  store_id text NOT NULL,
  revision integer NOT NULL,
  outcome text NOT NULL CHECK (outcome IN ('accepted', 'declined', 'overtaken')),
  -- Items whose counts are not relied on: they are as if they had not been counted.
  left_out text[] NOT NULL,
  reason text,
  district_id text NOT NULL,
  region_id text NOT NULL,
  owner_id text NOT NULL,
  -- Nobody, when the next opening came first.
  settled_by uuid,
  recorded_at timestamptz NOT NULL,
  PRIMARY KEY (business_date, store_id, revision)
) PARTITION BY RANGE (business_date);

-- Answers to what was asked about a revision.
CREATE TABLE night_answers (
  business_date date NOT NULL,
  store_id text NOT NULL,
  revision integer NOT NULL,
  check_id text NOT NULL,
  answer jsonb NOT NULL,
  district_id text NOT NULL,
  region_id text NOT NULL,
  owner_id text NOT NULL,
  answered_by uuid NOT NULL,
  recorded_at timestamptz NOT NULL,
  write_id uuid NOT NULL,
  PRIMARY KEY (business_date, store_id, revision, check_id)
) PARTITION BY RANGE (business_date);

ALTER TABLE night_tallies ADD COLUMN items_left_out bigint NOT NULL DEFAULT 0;
ALTER TABLE night_tallies ALTER COLUMN items_left_out DROP DEFAULT;

DO $$
DECLARE
  fact record;
BEGIN
  FOR fact IN
    SELECT * FROM (VALUES
      -- Approving is for whoever looks after the store as well.
      ('night_settlements', '{manager,coach,owner,office}', '{manager,coach,office}'),
      ('night_answers', '{manager,coach,owner,office}', '{manager,office}')
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
         OR (select acting_role()) = ANY (%L::text[]) AND (
           store_id = ANY ((select acting_stores())::text[])
           OR district_id = ANY ((select acting_districts())::text[])))',
      fact.name || '_add', fact.name, fact.writers);
    EXECUTE format('CREATE POLICY %I ON %I FOR SELECT TO parings_read USING (true)',
      fact.name || '_verify', fact.name);
    EXECUTE format('GRANT SELECT, INSERT ON %I TO parings_app', fact.name);
    EXECUTE format('GRANT SELECT ON %I TO parings_read', fact.name);
  END LOOP;
END
$$;

-- Partitions for the months that the tables before these have.
DO $$
DECLARE
  first date;
  last date;
BEGIN
  SELECT min(to_date(right(c.relname, 7), 'YYYY_MM')), max(to_date(right(c.relname, 7), 'YYYY_MM'))
    INTO first, last
    FROM pg_inherits i JOIN pg_class c ON c.oid = i.inhrelid
    WHERE i.inhparent = 'night_revisions'::regclass;
  IF first IS NOT NULL THEN
    PERFORM make_partitions(first, last);
  END IF;
END
$$;
