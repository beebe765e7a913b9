-- Settling what waits: held counts at the next opening, by nobody; proposals by whoever approves.

-- The clock settles a held count when nobody answered. Nobody acts then: one function tells which
-- counts wait, the other hands one store to the rules. Neither does anything while somebody acts.
CREATE POLICY night_revisions_waiting ON night_revisions FOR SELECT TO parings_signin
  USING (state = 'held');
CREATE POLICY night_settlements_waiting ON night_settlements FOR SELECT TO parings_signin USING (true);
GRANT SELECT (business_date, store_id, revision, state, recorded_at)
  ON night_revisions TO parings_signin;
GRANT SELECT (business_date, store_id, revision) ON night_settlements TO parings_signin;
CREATE INDEX night_revisions_held ON night_revisions (business_date, store_id)
  WHERE state = 'held';

CREATE FUNCTION nights_held(since date)
RETURNS TABLE (business_date date, store_id text, revision integer)
LANGUAGE sql STABLE SECURITY DEFINER SET search_path = public, pg_temp AS $$
  SELECT r.business_date, r.store_id, r.revision FROM night_revisions r
  WHERE acting_role() = '' AND r.state = 'held' AND r.business_date >= since
    AND NOT EXISTS (SELECT FROM night_settlements s WHERE s.business_date = r.business_date
      AND s.store_id = r.store_id AND s.revision = r.revision)
  ORDER BY r.business_date, r.store_id, r.revision
$$;
-- Taking a function over needs the right to create one, for that moment only.
GRANT CREATE ON SCHEMA public TO parings_signin;
ALTER FUNCTION nights_held(date) OWNER TO parings_signin;
REVOKE CREATE ON SCHEMA public FROM parings_signin;
REVOKE ALL ON FUNCTION nights_held(date) FROM PUBLIC;
GRANT EXECUTE ON FUNCTION nights_held(date) TO parings_app;

CREATE FUNCTION act_at_opening(store text) RETURNS void LANGUAGE plpgsql AS $$
BEGIN
  IF acting_role() <> '' OR acting_person() IS NOT NULL THEN
    RAISE insufficient_privilege USING MESSAGE = 'somebody acts in this transaction';
  END IF;
  PERFORM set_config('parings.role', 'rules', true), set_config('parings.stores', store, true),
    set_config('parings.districts', '', true), set_config('parings.owners', '', true);
END
$$;

-- The rules settle nothing but a held count, by nobody, while nobody acts.
CREATE POLICY night_settlements_at_opening ON night_settlements FOR INSERT TO parings_app
  WITH CHECK ((select acting_role()) = 'rules' AND (select acting_person()) IS NULL
    AND store_id = ANY ((select acting_stores())::text[])
    AND outcome = 'accepted' AND settled_by IS NULL
    AND EXISTS (SELECT FROM night_revisions r WHERE r.business_date = night_settlements.business_date
      AND r.store_id = night_settlements.store_id AND r.revision = night_settlements.revision
      AND r.state = 'held'));

-- Whether this very transaction settled a proposal for a store (and a date), on whose word.
CREATE FUNCTION just_approved(store text, night date) RETURNS TABLE (proposed_by uuid)
LANGUAGE sql STABLE AS $$
  SELECT r.submitted_by FROM night_settlements s
    JOIN night_revisions r USING (business_date, store_id, revision)
  WHERE s.store_id = store AND s.business_date = night AND s.outcome = 'accepted'
    AND s.xmin = pg_current_xact_id_if_assigned()::xid AND s.settled_by = acting_person()
    AND s.settled_by <> r.submitted_by AND r.state = 'proposed'
$$;

-- What was proposed with a night is made in the name of who proposed it, once somebody else has
-- approved it: by the rules, for that night, in the transaction of the approval.
CREATE POLICY entry_ids_add_approved ON entry_ids FOR INSERT TO parings_app
  WITH CHECK ((select acting_role()) = 'rules'
    AND store_id = ANY ((select acting_stores())::text[])
    AND EXISTS (SELECT FROM just_approved(store_id, business_date)));
CREATE POLICY entries_add_approved ON entries FOR INSERT TO parings_app
  WITH CHECK ((select acting_role()) = 'rules'
    AND store_id = ANY ((select acting_stores())::text[])
    AND recorded_by IN (SELECT proposed_by FROM just_approved(store_id, business_date)));
CREATE POLICY entry_withdrawals_add_approved ON entry_withdrawals FOR INSERT TO parings_app
  WITH CHECK ((select acting_role()) = 'rules'
    AND store_id = ANY ((select acting_stores())::text[])
    AND withdrawn_by IN (SELECT proposed_by FROM just_approved(store_id, business_date)));

-- Lets the acting person hand over to the rules, for one store they may write to (or all, office).
-- A coach writes to none; one who has just settled a proposal of a night of their district may have
-- that store's tallies worked out again. The rules may hand over to themselves.
CREATE OR REPLACE FUNCTION act_for_rules(store text) RETURNS void LANGUAGE plpgsql AS $$
BEGIN
  IF acting_role() <> 'office'
     AND NOT (acting_role() IN ('crew', 'manager', 'till', 'rules')
       AND store = ANY (acting_stores()))
     AND NOT (acting_role() = 'coach' AND EXISTS (
       SELECT FROM night_settlements s WHERE s.store_id = store
         AND s.district_id = ANY (acting_districts()) AND s.settled_by = acting_person()
         AND s.xmin = pg_current_xact_id_if_assigned()::xid)) THEN
    RAISE insufficient_privilege USING MESSAGE = 'the acting person may not write to this store';
  END IF;
  PERFORM set_config('parings.role', 'rules', true), set_config('parings.stores', store, true),
    set_config('parings.districts', '', true), set_config('parings.owners', '', true);
END
$$;

-- Names of those whose account has ended, told as other names are.
CREATE FUNCTION left_of(asked uuid[]) RETURNS TABLE (name text)
LANGUAGE sql STABLE SECURITY DEFINER SET search_path = public, pg_temp AS $$
  SELECT DISTINCT p.name FROM people p
  WHERE p.id = ANY (asked) AND p.disabled_at IS NOT NULL AND acting_role() IN ('crew', 'manager')
  ORDER BY p.name
$$;
GRANT CREATE ON SCHEMA public TO parings_signin;
ALTER FUNCTION left_of(uuid[]) OWNER TO parings_signin;
REVOKE CREATE ON SCHEMA public FROM parings_signin;
REVOKE ALL ON FUNCTION left_of(uuid[]) FROM PUBLIC;
GRANT EXECUTE ON FUNCTION left_of(uuid[]) TO parings_app;
