-- Reviews compare a store with others wherever they are. For that, whoever may review a district
-- hands over to a part that sees tallies and stores of the whole network and writes nothing; what is
-- shown of stores elsewhere (medians, spreads, counts over at least five) is for the server to keep.
CREATE FUNCTION act_for_review(district text) RETURNS void LANGUAGE plpgsql AS $$
BEGIN
  IF acting_role() <> 'office'
     AND NOT (acting_role() = 'coach' AND district = ANY (acting_districts())) THEN
    RAISE insufficient_privilege USING MESSAGE = 'the acting person may not review this district';
  END IF;
  PERFORM set_config('transaction_read_only', 'on', true), set_config('parings.role', 'review', true),
    set_config('parings.stores', '', true), set_config('parings.districts', '', true),
    set_config('parings.owners', '', true);
END
$$;

CREATE POLICY reference_review ON reference_versions FOR SELECT TO parings_app
  USING ((select acting_role()) = 'review');
CREATE POLICY item_days_review ON item_days FOR SELECT TO parings_app
  USING ((select acting_role()) = 'review');
CREATE POLICY item_spans_review ON item_spans FOR SELECT TO parings_app
  USING ((select acting_role()) = 'review');
CREATE POLICY daypart_tallies_review ON daypart_tallies FOR SELECT TO parings_app
  USING ((select acting_role()) = 'review');
CREATE POLICY night_tallies_review ON night_tallies FOR SELECT TO parings_app
  USING ((select acting_role()) = 'review');
