DROP POLICY night_tallies_review ON night_tallies;
DROP POLICY daypart_tallies_review ON daypart_tallies;
DROP POLICY item_spans_review ON item_spans;
DROP POLICY item_days_review ON item_days;
DROP POLICY reference_review ON reference_versions;
DROP FUNCTION act_for_review(text);
