-- A review tells a night whose count waits from one without a count, and the server by itself asks what
-- amendments did to use. The part that reviews for a person sees no more than which counts waited.
CREATE POLICY night_revisions_review ON night_revisions FOR SELECT TO parings_app
  USING ((select acting_role()) = 'nightly'
    OR (select acting_role()) = 'review' AND state <> 'accepted');
CREATE POLICY night_settlements_review ON night_settlements FOR SELECT TO parings_app
  USING ((select acting_role()) IN ('review', 'nightly'));
