-- What was known when: the pins of nights as a history, and a part that looks back.

-- The moments whose reference data a night was tallied with, one row for each that a night ever
-- had: the first with its first tally, the others with a restatement and its reason.
CREATE TABLE night_pins (
  business_date date NOT NULL,
  store_id text NOT NULL,
  rules smallint NOT NULL,
  known_at timestamptz NOT NULL,
  recorded_at timestamptz NOT NULL,
  -- Of a restatement.
  reason text,
  district_id text NOT NULL,
  region_id text NOT NULL,
  owner_id text NOT NULL,
  PRIMARY KEY (store_id, business_date, rules, known_at)
) PARTITION BY RANGE (business_date);

ALTER TABLE night_pins ENABLE ROW LEVEL SECURITY;
ALTER TABLE night_pins FORCE ROW LEVEL SECURITY;
CREATE POLICY night_pins_read ON night_pins FOR SELECT TO parings_app USING (
  (select acting_role()) = 'office'
  OR (select acting_role()) IN ('rules', 'manager')
    AND store_id = ANY ((select acting_stores())::text[])
  OR (select acting_role()) = 'coach' AND district_id = ANY ((select acting_districts())::text[])
  OR (select acting_role()) = 'owner' AND owner_id = ANY ((select acting_owners())::text[]));
CREATE POLICY night_pins_add ON night_pins FOR INSERT TO parings_app WITH CHECK (
  (select acting_role()) = 'rules' AND store_id = ANY ((select acting_stores())::text[]));
CREATE POLICY night_pins_verify ON night_pins FOR SELECT TO parings_read USING (true);
GRANT SELECT, INSERT ON night_pins TO parings_app;
GRANT SELECT ON night_pins TO parings_read;

-- Partitions for the months that the tables before this have, and the pins of nights tallied so
-- far. Of a night restated before, the pins it had earlier are not on record.
DO $$
DECLARE
  first date;
  last date;
BEGIN
  SELECT min(to_date(right(c.relname, 7), 'YYYY_MM')), max(to_date(right(c.relname, 7), 'YYYY_MM'))
    INTO first, last
    FROM pg_inherits i JOIN pg_class c ON c.oid = i.inhrelid
    WHERE i.inhparent = 'night_tallies'::regclass;
  IF first IS NOT NULL THEN
    PERFORM make_partitions(first, last);
  END IF;
END
$$;
-- Row-level security is forced on the owner too; for this one statement it is not.
ALTER TABLE night_tallies NO FORCE ROW LEVEL SECURITY;
ALTER TABLE night_pins NO FORCE ROW LEVEL SECURITY;
INSERT INTO night_pins (business_date, store_id, rules, known_at, recorded_at, district_id,
    region_id, owner_id)
  SELECT business_date, store_id, rules, known_at, known_at, district_id, region_id, owner_id
  FROM night_tallies;
ALTER TABLE night_tallies FORCE ROW LEVEL SECURITY;
ALTER TABLE night_pins FORCE ROW LEVEL SECURITY;

-- What was recorded after a moment is looked for by that moment; rows lie in its order.
CREATE INDEX ON entries USING brin (recorded_at);
CREATE INDEX ON till_batches USING brin (recorded_at);
CREATE INDEX ON night_revisions USING brin (recorded_at);
CREATE INDEX ON night_settlements USING brin (recorded_at);
CREATE INDEX ON night_pins USING brin (recorded_at);
CREATE INDEX ON entry_withdrawals USING brin (withdrawn_at);

-- Lets whoever may read the figures of stores look at all their facts, to work out what was known of
-- them at a moment: a span may reach back to nights from before the store came to the one who acts.
-- What is shown of it is for the server to choose. The transaction only reads from here on.
CREATE FUNCTION act_for_recall(stores text[]) RETURNS void LANGUAGE plpgsql AS $$
DECLARE
  readable text[];
BEGIN
  IF acting_role() NOT IN ('manager', 'coach', 'owner', 'office') THEN
    RAISE insufficient_privilege USING MESSAGE = 'the acting person may not read figures';
  END IF;
  SELECT array_agg(s) INTO readable FROM unnest(stores) AS s
    WHERE acting_role() = 'office' OR EXISTS (SELECT FROM night_tallies n WHERE n.store_id = s);
  PERFORM set_config('transaction_read_only', 'on', true), set_config('parings.role', 'rules', true),
    set_config('parings.stores', coalesce(array_to_string(readable, ','), ''), true),
    set_config('parings.districts', '', true), set_config('parings.owners', '', true);
END
$$;

-- When the count of a night was first accepted: what is recorded later comes late. Those who record
-- entries are told, and may not see counts; so the rules look, and hand back the part they took.
CREATE FUNCTION first_accepted(store text, night date) RETURNS timestamptz
LANGUAGE plpgsql AS $$
DECLARE
  role text := acting_role();
  stores text := current_setting('parings.stores', true);
  districts text := current_setting('parings.districts', true);
  owners text := current_setting('parings.owners', true);
  accepted timestamptz;
BEGIN
  IF role IN ('crew', 'till') THEN
    PERFORM act_for_rules(store);
  END IF;
  SELECT min(CASE WHEN r.state = 'accepted' THEN r.recorded_at ELSE s.recorded_at END)
    INTO accepted
    FROM night_revisions r LEFT JOIN night_settlements s
      ON s.store_id = r.store_id AND s.business_date = r.business_date AND s.revision = r.revision
    WHERE r.store_id = store AND r.business_date = night
      AND (r.state = 'accepted' OR s.outcome = 'accepted');
  PERFORM set_config('parings.role', role, true), set_config('parings.stores', stores, true),
    set_config('parings.districts', districts, true), set_config('parings.owners', owners, true);
  RETURN accepted;
END
$$;

-- What was recorded that changes a figure, with who and why. What is held or proposed changes one
-- when it is accepted; a pin does with a restatement, not with the first tally.
CREATE VIEW night_events WITH (security_invoker = true) AS
  SELECT e.store_id, e.business_date, e.district_id, e.region_id, e.owner_id, 'entry' AS kind,
    e.kind AS what, e.recorded_at AS at, e.recorded_by AS person, NULL::text AS reason,
    e.id::text AS id
  FROM entries e
  UNION ALL
  SELECT w.store_id, w.business_date, w.district_id, w.region_id, w.owner_id, 'withdrawal',
    e.kind, w.withdrawn_at, w.withdrawn_by, w.reason, w.entry_id::text
  FROM entry_withdrawals w JOIN entries e
    ON e.business_date = w.business_date AND e.store_id = w.store_id AND e.id = w.entry_id
  UNION ALL
  SELECT store_id, business_date, district_id, region_id, owner_id, 'till_batch', batch_id,
    recorded_at, sent_by, NULL, batch_id
  FROM till_batches
  UNION ALL
  SELECT store_id, business_date, district_id, region_id, owner_id, 'revision', revision::text,
    recorded_at, submitted_by, reason, revision::text
  FROM night_revisions WHERE state = 'accepted'
  UNION ALL
  SELECT s.store_id, s.business_date, s.district_id, s.region_id, s.owner_id, 'revision',
    s.revision::text, s.recorded_at, coalesce(s.settled_by, r.submitted_by),
    coalesce(s.reason, r.reason), s.revision::text
  FROM night_settlements s JOIN night_revisions r
    ON r.business_date = s.business_date AND r.store_id = s.store_id AND r.revision = s.revision
  WHERE s.outcome = 'accepted'
  UNION ALL
  SELECT store_id, business_date, district_id, region_id, owner_id, 'restatement', '',
    recorded_at, NULL, reason, ''
  FROM night_pins WHERE reason IS NOT NULL;
GRANT SELECT ON night_events TO parings_app;

-- Ends of transfers that name a store the acting person sees on their date, whoever recorded them:
-- a store is told what others say they sent it or had from it, and nothing else of theirs.
CREATE INDEX ON entries (business_date) WHERE kind IN ('transfer_in', 'transfer_out');
CREATE POLICY entries_transfers ON entries FOR SELECT TO parings_signin
  USING (kind IN ('transfer_in', 'transfer_out'));
CREATE POLICY entry_withdrawals_transfers ON entry_withdrawals FOR SELECT TO parings_signin
  USING (true);
GRANT SELECT (business_date, store_id, id, kind, body, recorded_at) ON entries TO parings_signin;
GRANT SELECT (entry_id) ON entry_withdrawals TO parings_signin;
GRANT SELECT (body, retired) ON reference_versions TO parings_signin;

CREATE FUNCTION transfers_naming(first date, last date, known timestamptz)
RETURNS TABLE (id uuid, store_id text, business_date date, body jsonb, recorded_at timestamptz)
LANGUAGE sql STABLE SECURITY DEFINER SET search_path = public, pg_temp AS $$
  SELECT e.id, e.store_id, e.business_date, e.body, e.recorded_at FROM entries e,
    LATERAL (SELECT coalesce(e.body ->> 'from', e.body ->> 'to') AS store) named
  WHERE e.kind IN ('transfer_in', 'transfer_out') AND e.business_date BETWEEN first AND last
    AND NOT EXISTS (SELECT FROM entry_withdrawals w WHERE w.entry_id = e.id)
    AND CASE acting_role()
      WHEN 'office' THEN true
      WHEN 'manager' THEN named.store = ANY (acting_stores())
      WHEN 'crew' THEN named.store = ANY (acting_stores())
      WHEN 'coach' THEN EXISTS (SELECT FROM reference_versions v
        WHERE v.id = store_in_force(named.store, e.business_date, known)
          AND v.body ->> 'district' = ANY (acting_districts()))
      WHEN 'owner' THEN EXISTS (SELECT FROM reference_versions v
        WHERE v.id = store_in_force(named.store, e.business_date, known)
          AND v.body ->> 'owner' = ANY (acting_owners()))
      ELSE false
    END
$$;

-- Whether a store was in force on a date: a transfer names one that was, seen or not.
CREATE FUNCTION store_stood(store text, on_date date, known timestamptz) RETURNS boolean
LANGUAGE sql STABLE SECURITY DEFINER SET search_path = public, pg_temp AS $$
  SELECT coalesce((SELECT NOT v.retired FROM reference_versions v
    WHERE v.id = store_in_force(store, on_date, known)), false)
$$;

GRANT CREATE ON SCHEMA public TO parings_signin;
ALTER FUNCTION store_stood(text, date, timestamptz) OWNER TO parings_signin;
ALTER FUNCTION transfers_naming(date, date, timestamptz) OWNER TO parings_signin;
REVOKE CREATE ON SCHEMA public FROM parings_signin;
REVOKE ALL ON FUNCTION transfers_naming(date, date, timestamptz) FROM PUBLIC;
GRANT EXECUTE ON FUNCTION transfers_naming(date, date, timestamptz) TO parings_app;
REVOKE ALL ON FUNCTION store_stood(text, date, timestamptz) FROM PUBLIC;
GRANT EXECUTE ON FUNCTION store_stood(text, date, timestamptz) TO parings_app;

-- The audit is read from its newest row back.
CREATE INDEX audit_at ON audit (at, id);
