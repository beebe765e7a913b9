DROP FUNCTION lots_in_review(text[], date[]);
CREATE FUNCTION lots_in_review(first date, last date)
RETURNS TABLE (store_id text, business_date date, lot text)
LANGUAGE sql STABLE SECURITY DEFINER SET search_path = public, pg_temp AS $$
  WITH told AS MATERIALIZED (
    SELECT e.store_id, e.business_date, e.kind, e.recorded_at, e.id,
      e.body ->> 'item' AS item, e.body ->> 'lot' AS lot
    FROM entries e
    WHERE e.business_date BETWEEN first AND last AND e.body ->> 'lot' IS NOT NULL
      AND acting_role() IN ('review', 'nightly')
      AND NOT EXISTS (SELECT FROM entry_withdrawals w WHERE w.entry_id = e.id)),
  main AS (
    SELECT s.item_id FROM item_spans s
    WHERE s.business_date BETWEEN first AND last AND s.item_id IN (SELECT item FROM told)
    GROUP BY s.item_id ORDER BY sum(s.used_cost) DESC NULLS LAST, s.item_id LIMIT 1)
  -- What was cooked says more than what came in; of several, the last.
  SELECT DISTINCT ON (told.store_id, told.business_date)
    told.store_id, told.business_date, told.lot
  FROM told JOIN main ON main.item_id = told.item
  ORDER BY told.store_id, told.business_date, told.kind = 'batch' DESC, told.recorded_at DESC, told.id
$$;
GRANT CREATE ON SCHEMA public TO parings_signin;
ALTER FUNCTION lots_in_review(date, date) OWNER TO parings_signin;
REVOKE CREATE ON SCHEMA public FROM parings_signin;
REVOKE ALL ON FUNCTION lots_in_review(date, date) FROM PUBLIC;
GRANT EXECUTE ON FUNCTION lots_in_review(date, date) TO parings_app;

DROP TABLE review_nights;
