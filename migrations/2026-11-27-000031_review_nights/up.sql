-- What a review needs of a night, one row each, kept so that nobody who asks waits until every item of
-- every store is added up: of 2,000 stores and sixteen weeks that is four million spans. The server
-- works them out by itself. A row holds for as long as its mark is that of the night's tally, which is
-- another one whenever anything of the night is tallied anew; what does not hold is worked out again.
CREATE TABLE review_nights (
  business_date date NOT NULL,
  store_id text NOT NULL,
  rules smallint NOT NULL,
  mark text NOT NULL,
  counted boolean NOT NULL,
  short boolean NOT NULL,
  sales bigint,
  units bigint,
  wasted bigint NOT NULL,
  safety bigint NOT NULL,
  expected bigint,
  variance bigint,
  nights bigint,
  lines bigint,
  same_lines bigint,
  due bigint,
  batch_due bigint,
  batch_out bigint,
  tickets bigint,
  late bigint,
  p50 integer,
  p90 integer,
  -- Of the item that most money is used of, where somebody wrote it down.
  lot text,
  PRIMARY KEY (business_date, store_id)
);
ALTER TABLE review_nights ENABLE ROW LEVEL SECURITY;
ALTER TABLE review_nights FORCE ROW LEVEL SECURITY;
CREATE POLICY review_nights_read ON review_nights FOR SELECT TO parings_app
  USING ((select acting_role()) IN ('review', 'nightly'));
CREATE POLICY review_nights_add ON review_nights FOR INSERT TO parings_app
  WITH CHECK ((select acting_role()) = 'nightly');
CREATE POLICY review_nights_replace ON review_nights FOR DELETE TO parings_app
  USING ((select acting_role()) = 'nightly');
CREATE POLICY review_nights_verify ON review_nights FOR SELECT TO parings_read USING (true);
GRANT SELECT, INSERT, DELETE ON review_nights TO parings_app;
GRANT SELECT ON review_nights TO parings_read;

-- Lots of given nights, rather than of a span.
DROP FUNCTION lots_in_review(date, date);
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
