DROP FUNCTION left_of(uuid[]);
CREATE OR REPLACE FUNCTION act_for_rules(store text) RETURNS void LANGUAGE plpgsql AS $$
BEGIN
  IF acting_role() <> 'office'
     AND NOT (acting_role() IN ('crew', 'manager', 'till') AND store = ANY (acting_stores())) THEN
    RAISE insufficient_privilege USING MESSAGE = 'the acting person may not write to this store';
  END IF;
  PERFORM set_config('parings.role', 'rules', true), set_config('parings.stores', store, true),
    set_config('parings.districts', '', true), set_config('parings.owners', '', true);
END
$$;
DROP POLICY entry_withdrawals_add_approved ON entry_withdrawals;
DROP POLICY entries_add_approved ON entries;
DROP POLICY entry_ids_add_approved ON entry_ids;
DROP FUNCTION just_approved(text, date);
DROP POLICY night_settlements_at_opening ON night_settlements;
DROP FUNCTION act_at_opening(text);
DROP FUNCTION nights_held(date);
DROP INDEX night_revisions_held;
REVOKE SELECT (business_date, store_id, revision) ON night_settlements FROM parings_signin;
REVOKE SELECT (business_date, store_id, revision, state, recorded_at)
  ON night_revisions FROM parings_signin;
DROP POLICY night_settlements_waiting ON night_settlements;
DROP POLICY night_revisions_waiting ON night_revisions;
