-- Tallies: what the facts of one store and business date add up to. Derived; they can always be
-- recomputed (`parings verify` does, and compares to the digit). Quantities are thousandths of the
-- item's base unit (g, ml, each), money is ten-thousandths of the network's currency unit.
-- Columns have the names of the records in core::tally, which are written and read as they are.

-- What happened to an item on one business date.
CREATE TABLE item_days (
  business_date date NOT NULL,
  store_id text NOT NULL,
  item_id text NOT NULL,
  rules smallint NOT NULL,
  known_at timestamptz NOT NULL,
  district_id text NOT NULL,
  region_id text NOT NULL,
  owner_id text NOT NULL,
  received bigint NOT NULL,
  price_effect bigint NOT NULL,
  transferred_in bigint NOT NULL,
  transferred_out bigint NOT NULL,
  made bigint NOT NULL,
  made_into bigint NOT NULL,
  made_into_cost bigint NOT NULL,
  expected bigint NOT NULL,
  expected_cost bigint NOT NULL,
  wasted bigint NOT NULL,
  wasted_cost bigint NOT NULL,
  wasted_safety bigint NOT NULL,
  wasted_safety_cost bigint NOT NULL,
  waste jsonb NOT NULL,
  batch_in bigint NOT NULL,
  batch_out bigint NOT NULL,
  batch_expected_out bigint NOT NULL,
  yield_loss bigint NOT NULL,
  yield_loss_cost bigint NOT NULL,
  samples bigint NOT NULL,
  sample_sum bigint NOT NULL,
  sample_squares bigint NOT NULL,
  stock_out_minutes bigint NOT NULL,
  closing bigint,
  closing_sd bigint,
  PRIMARY KEY (store_id, business_date, item_id, rules)
) PARTITION BY RANGE (business_date);

-- Usage of an item from its last count to the one of `business_date`.
CREATE TABLE item_spans (
  business_date date NOT NULL,
  store_id text NOT NULL,
  item_id text NOT NULL,
  rules smallint NOT NULL,
  district_id text NOT NULL,
  region_id text NOT NULL,
  owner_id text NOT NULL,
  opened_on date NOT NULL,
  nights bigint NOT NULL,
  opening bigint NOT NULL,
  opening_sd bigint NOT NULL,
  received bigint NOT NULL,
  transferred_in bigint NOT NULL,
  transferred_out bigint NOT NULL,
  made bigint NOT NULL,
  closing bigint NOT NULL,
  closing_sd bigint NOT NULL,
  used bigint NOT NULL,
  used_cost bigint,
  made_into bigint NOT NULL,
  made_into_cost bigint NOT NULL,
  expected bigint,
  expected_cost bigint,
  variance_cost bigint,
  wasted bigint NOT NULL,
  wasted_cost bigint NOT NULL,
  wasted_safety bigint NOT NULL,
  wasted_safety_cost bigint NOT NULL,
  yield_loss bigint NOT NULL,
  yield_loss_cost bigint NOT NULL,
  samples bigint NOT NULL,
  sample_sum bigint NOT NULL,
  sample_squares bigint NOT NULL,
  sales bigint,
  restated_at timestamptz,
  PRIMARY KEY (store_id, business_date, item_id, rules)
) PARTITION BY RANGE (business_date);

-- Orders, sales and ticket times of a daypart and channel.
CREATE TABLE daypart_tallies (
  business_date date NOT NULL,
  store_id text NOT NULL,
  daypart_id text NOT NULL,
  channel_id text NOT NULL,
  rules smallint NOT NULL,
  district_id text NOT NULL,
  region_id text NOT NULL,
  owner_id text NOT NULL,
  units bigint NOT NULL,
  sales bigint NOT NULL,
  orders bigint NOT NULL,
  times jsonb NOT NULL,
  with_target bigint NOT NULL,
  late bigint NOT NULL,
  never_closed bigint NOT NULL,
  lump_closed bigint NOT NULL,
  stock_out_minutes bigint NOT NULL,
  PRIMARY KEY (store_id, business_date, daypart_id, channel_id, rules)
) PARTITION BY RANGE (business_date);

-- The night itself.
CREATE TABLE night_tallies (
  business_date date NOT NULL,
  store_id text NOT NULL,
  rules smallint NOT NULL,
  known_at timestamptz NOT NULL,
  district_id text NOT NULL,
  region_id text NOT NULL,
  owner_id text NOT NULL,
  revision bigint,
  counted boolean NOT NULL,
  partial boolean NOT NULL,
  items_due bigint NOT NULL,
  items_counted bigint NOT NULL,
  sales_source text NOT NULL CHECK (sales_source IN ('feed', 'typed', 'none')),
  sales bigint,
  units bigint,
  wasted_cost bigint NOT NULL,
  wasted_safety_cost bigint NOT NULL,
  unmapped_units bigint NOT NULL,
  PRIMARY KEY (store_id, business_date, rules)
) PARTITION BY RANGE (business_date);

DO $$
DECLARE
  tally text;
BEGIN
  FOREACH tally IN ARRAY ARRAY['item_days', 'item_spans', 'daypart_tallies', 'night_tallies'] LOOP
    EXECUTE format('CREATE INDEX ON %I (district_id, business_date)', tally);
    EXECUTE format('ALTER TABLE %I ENABLE ROW LEVEL SECURITY', tally);
    EXECUTE format('ALTER TABLE %I FORCE ROW LEVEL SECURITY', tally);
    EXECUTE format(
      'CREATE POLICY %I ON %I FOR SELECT TO parings_app USING (
         (select acting_role()) = ''office''
         OR (select acting_role()) IN (''rules'', ''manager'')
           AND store_id = ANY ((select acting_stores())::text[])
         OR (select acting_role()) = ''coach''
           AND district_id = ANY ((select acting_districts())::text[])
         OR (select acting_role()) = ''owner''
           AND owner_id = ANY ((select acting_owners())::text[]))',
      tally || '_read', tally);
    -- Only the rules write tallies, and only those of the store they were handed.
    EXECUTE format(
      'CREATE POLICY %I ON %I FOR INSERT TO parings_app WITH CHECK (
         (select acting_role()) = ''rules'' AND store_id = ANY ((select acting_stores())::text[]))',
      tally || '_add', tally);
    EXECUTE format(
      'CREATE POLICY %I ON %I FOR DELETE TO parings_app USING (
         (select acting_role()) = ''rules'' AND store_id = ANY ((select acting_stores())::text[]))',
      tally || '_replace', tally);
    EXECUTE format('CREATE POLICY %I ON %I FOR SELECT TO parings_read USING (true)',
      tally || '_verify', tally);
    EXECUTE format('GRANT SELECT, INSERT, DELETE ON %I TO parings_app', tally);
    EXECUTE format('GRANT SELECT ON %I TO parings_read', tally);
  END LOOP;
END
$$;

-- The moment whose reference data a night is tallied with. Who may write to the store needs it to
-- check a fact, and may not see tallies; so the rules look, and hand back the part they took.
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
