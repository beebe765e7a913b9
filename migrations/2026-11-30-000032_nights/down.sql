-- The tables of before come back as they are: nights that were packed since are to be tallied anew.
DROP FUNCTION lots_in_review(date, date);
DROP FUNCTION night_pin(text, date);
DROP TABLE nights;
DROP SEQUENCE night_generations;
DO $$
DECLARE
  part regclass;
BEGIN
  FOR part IN
    SELECT c.oid::regclass FROM pg_class c
      WHERE c.relnamespace = 'unpacked'::regnamespace AND c.relkind IN ('r', 'p')
  LOOP
    EXECUTE format('ALTER TABLE %s SET SCHEMA public', part);
  END LOOP;
END
$$;
DROP SCHEMA unpacked;
ALTER TABLE item_days FORCE ROW LEVEL SECURITY;
ALTER TABLE item_spans FORCE ROW LEVEL SECURITY;
ALTER TABLE daypart_tallies FORCE ROW LEVEL SECURITY;
ALTER TABLE night_tallies FORCE ROW LEVEL SECURITY;

CREATE FUNCTION night_pin(store text, night date, version smallint) RETURNS timestamptz
LANGUAGE plpgsql AS $$
DECLARE
  role text := acting_role();
  stores text := current_setting('parings.stores', true);
  districts text := current_setting('parings.districts', true);
  owners text := current_setting('parings.owners', true);
  pinned timestamptz;
BEGIN
  PERFORM act_for_rules(store);
  SELECT n.known_at INTO pinned FROM night_tallies n
    WHERE n.store_id = store AND n.business_date = night AND n.rules = version;
  PERFORM set_config('parings.role', role, true), set_config('parings.stores', stores, true),
    set_config('parings.districts', districts, true), set_config('parings.owners', owners, true);
  RETURN pinned;
END
$$;

CREATE FUNCTION lots_in_review(stores text[], dates date[])
RETURNS TABLE (store_id text, business_date date, lot text)
LANGUAGE sql STABLE SECURITY DEFINER SET search_path = public, pg_temp AS $$
  WITH told AS MATERIALIZED (
    SELECT e.store_id, e.business_date, e.kind, e.recorded_at, e.id,
      e.body ->> 'item' AS item, e.body ->> 'lot' AS lot
    FROM unnest(stores, dates) AS asked (store_id, business_date) JOIN entries e
      ON e.store_id = asked.store_id AND e.business_date = asked.business_date
    WHERE e.body ->> 'lot' IS NOT NULL AND acting_role() IN ('review', 'nightly')
      AND NOT EXISTS (SELECT FROM entry_withdrawals w WHERE w.entry_id = e.id)),
  last AS MATERIALIZED (SELECT max(night) AS night FROM unnest(dates) AS night),
  main AS (
    SELECT s.item_id FROM last JOIN item_spans s
      ON s.business_date BETWEEN last.night - 27 AND last.night
    WHERE s.item_id = ANY (ARRAY (SELECT DISTINCT item FROM told))
    GROUP BY s.item_id ORDER BY sum(s.used_cost) DESC NULLS LAST, s.item_id LIMIT 1)
  -- What was cooked says more than what came in; of several, the last.
  SELECT DISTINCT ON (told.store_id, told.business_date)
    told.store_id, told.business_date, told.lot
  FROM told JOIN main ON main.item_id = told.item
  ORDER BY told.store_id, told.business_date, told.kind = 'batch' DESC, told.recorded_at DESC, told.id
$$;
GRANT CREATE ON SCHEMA public TO parings_signin;
ALTER FUNCTION lots_in_review(text[], date[]) OWNER TO parings_signin;
REVOKE CREATE ON SCHEMA public FROM parings_signin;
REVOKE ALL ON FUNCTION lots_in_review(text[], date[]) FROM PUBLIC;
GRANT EXECUTE ON FUNCTION lots_in_review(text[], date[]) TO parings_app;
