-- A night's tallies are one row: columns that policies and selection need, and the packed rest, which
-- core packs and unpacks (`parings_core::tally::pack`). Nothing in the database adds.
CREATE SEQUENCE night_generations;

CREATE TABLE nights (
  business_date date NOT NULL,
  store_id text NOT NULL,
  -- The version of the rules that made it.
  rules smallint NOT NULL,
  district_id text NOT NULL,
  region_id text NOT NULL,
  owner_id text NOT NULL,
  -- The moment whose reference data it is made with.
  known_at timestamptz NOT NULL,
  -- Another one whenever anything of the night says something else.
  generation bigint NOT NULL,
  -- Of the count in force.
  revision integer,
  -- The earliest count that a span begins with which ends here; the date itself without any.
  reaches date NOT NULL,
  -- Whether portions were weighed.
  sampled boolean NOT NULL,
  -- The codes of the items that were counted, with a space before, between and after them.
  counted text NOT NULL,
  -- All other codes.
  others text NOT NULL,
  packed bytea NOT NULL,
  PRIMARY KEY (store_id, business_date)
) PARTITION BY RANGE (business_date);
-- A packed night stays in the page of its row.
ALTER TABLE nights ALTER COLUMN packed SET STORAGE MAIN;
ALTER TABLE nights ALTER COLUMN counted SET STORAGE MAIN;
ALTER TABLE nights ALTER COLUMN others SET STORAGE MAIN;
CREATE INDEX ON nights (district_id, business_date);

ALTER TABLE nights ENABLE ROW LEVEL SECURITY;
ALTER TABLE nights FORCE ROW LEVEL SECURITY;
CREATE POLICY nights_read ON nights FOR SELECT TO parings_app USING (
  (select acting_role()) IN ('office', 'review', 'nightly')
  OR (select acting_role()) IN ('rules', 'manager')
    AND store_id = ANY ((select acting_stores())::text[])
  OR (select acting_role()) = 'coach' AND district_id = ANY ((select acting_districts())::text[])
  OR (select acting_role()) = 'owner' AND owner_id = ANY ((select acting_owners())::text[]));
-- Only the rules write tallies, and only those of the store they were handed.
CREATE POLICY nights_add ON nights FOR INSERT TO parings_app WITH CHECK (
  (select acting_role()) = 'rules' AND store_id = ANY ((select acting_stores())::text[]));
CREATE POLICY nights_change ON nights FOR UPDATE TO parings_app USING (
  (select acting_role()) = 'rules' AND store_id = ANY ((select acting_stores())::text[]));
CREATE POLICY nights_verify ON nights FOR SELECT TO parings_read USING (true);
GRANT SELECT, INSERT, UPDATE ON nights TO parings_app;
GRANT SELECT ON nights TO parings_read;
GRANT USAGE ON SEQUENCE night_generations TO parings_app;
-- The owner packs what the tables before this have.
CREATE POLICY nights_pack ON nights TO CURRENT_USER USING (true) WITH CHECK (true);

-- What the tables before this have. `parings migrate` packs their rows store by store; what it has
-- packed it takes away, so that it can be stopped and go on.
CREATE SCHEMA unpacked;
DO $$
DECLARE
  first date;
  last date;
  part regclass;
BEGIN
  SELECT min(to_date(right(c.relname, 7), 'YYYY_MM')), max(to_date(right(c.relname, 7), 'YYYY_MM'))
    INTO first, last
    FROM pg_inherits i JOIN pg_class c ON c.oid = i.inhrelid
    WHERE i.inhparent = 'night_tallies'::regclass;
  FOR part IN
    SELECT inhrelid::regclass FROM pg_inherits
      WHERE inhparent IN ('item_days'::regclass, 'item_spans'::regclass,
        'daypart_tallies'::regclass, 'night_tallies'::regclass)
    UNION ALL SELECT unnest(ARRAY['item_days', 'item_spans', 'daypart_tallies', 'night_tallies',
      'review_nights'])::regclass
  LOOP
    EXECUTE format('ALTER TABLE %s SET SCHEMA unpacked', part);
  END LOOP;
  IF first IS NOT NULL THEN
    PERFORM make_partitions(first, last);
  END IF;
END
$$;
TRUNCATE unpacked.review_nights;
-- Nobody but the owner may look into that schema, and the owner looks at all of it.
ALTER TABLE unpacked.item_days NO FORCE ROW LEVEL SECURITY;
ALTER TABLE unpacked.item_spans NO FORCE ROW LEVEL SECURITY;
ALTER TABLE unpacked.daypart_tallies NO FORCE ROW LEVEL SECURITY;
ALTER TABLE unpacked.night_tallies NO FORCE ROW LEVEL SECURITY;

-- The moment whose reference data a night is tallied with. Who may write to the store needs it to
-- check a fact, and may not see tallies; so the rules look, and hand back the part they took.
DROP FUNCTION night_pin(text, date, smallint);
CREATE FUNCTION night_pin(store text, night date) RETURNS timestamptz
LANGUAGE plpgsql AS $$
DECLARE
  role text := acting_role();
  stores text := current_setting('parings.stores', true);
  districts text := current_setting('parings.districts', true);
  owners text := current_setting('parings.owners', true);
  pinned timestamptz;
BEGIN
  PERFORM act_for_rules(store);
  SELECT n.known_at INTO pinned FROM nights n
    WHERE n.store_id = store AND n.business_date = night;
  PERFORM set_config('parings.role', role, true), set_config('parings.stores', stores, true),
    set_config('parings.districts', districts, true), set_config('parings.owners', owners, true);
  RETURN pinned;
END
$$;

-- Which lots stores wrote down, of which items. The part that reviews reads no entries; it is told
-- this of them, and nothing else. What was cooked says more than what came in; of several, the last.
DROP FUNCTION lots_in_review(text[], date[]);
CREATE FUNCTION lots_in_review(first date, last date)
RETURNS TABLE (store_id text, business_date date, item_id text, lot text)
LANGUAGE sql STABLE SECURITY DEFINER SET search_path = public, pg_temp AS $$
  SELECT DISTINCT ON (e.store_id, e.business_date, e.body ->> 'item')
    e.store_id, e.business_date, e.body ->> 'item', e.body ->> 'lot'
  FROM entries e
  WHERE e.business_date BETWEEN first AND last AND e.body ->> 'lot' IS NOT NULL
    AND acting_role() IN ('review', 'nightly')
    AND NOT EXISTS (SELECT FROM entry_withdrawals w WHERE w.entry_id = e.id)
  ORDER BY e.store_id, e.business_date, e.body ->> 'item', e.kind = 'batch' DESC,
    e.recorded_at DESC, e.id
$$;
GRANT CREATE ON SCHEMA public TO parings_signin;
ALTER FUNCTION lots_in_review(date, date) OWNER TO parings_signin;
REVOKE CREATE ON SCHEMA public FROM parings_signin;
REVOKE ALL ON FUNCTION lots_in_review(date, date) FROM PUBLIC;
GRANT EXECUTE ON FUNCTION lots_in_review(date, date) TO parings_app;
