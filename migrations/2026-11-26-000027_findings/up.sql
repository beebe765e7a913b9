-- What reviews found. A review looks at the stores of a time zone up to a night that is over in all of
-- them; when a night it looked at changes, another one is made, and the earlier one stays. Nobody
-- writes either but the server by itself, while nobody acts. Rows are never changed.
CREATE TABLE reviews (
  id bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
  zone text NOT NULL,
  as_of date NOT NULL,
  made_at timestamptz NOT NULL,
  -- Of what it was made: another when any of the last nights is.
  seen text NOT NULL,
  stores integer NOT NULL
);
CREATE INDEX reviews_latest ON reviews (zone, as_of DESC, id DESC);

CREATE TABLE findings (
  id uuid PRIMARY KEY DEFAULT gen_random_uuid(),
  review_id bigint NOT NULL REFERENCES reviews (id),
  -- Where its store stood on the last night; none for a district as a whole.
  store_id text,
  district_id text NOT NULL,
  owner_id text,
  measure text NOT NULL,
  kind text NOT NULL,
  since date NOT NULL,
  size double precision NOT NULL,
  size_low double precision NOT NULL,
  size_high double precision NOT NULL,
  money_per_week double precision,
  rank_low integer,
  rank_high integer,
  rank_of integer,
  evidence jsonb NOT NULL,
  sentence text NOT NULL,
  -- For the manager of the store, and nobody between them and head office.
  private boolean NOT NULL
);
CREATE INDEX findings_of ON findings (review_id);

-- What a manager says to a note. The same is found again the next night, so an answer stands beside
-- what it is about: a store, a measure, and since when.
CREATE TABLE finding_answers (
  id bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
  store_id text NOT NULL,
  district_id text NOT NULL,
  owner_id text NOT NULL,
  measure text NOT NULL,
  kind text NOT NULL,
  since date NOT NULL,
  said text NOT NULL CHECK (said <> ''),
  said_by uuid NOT NULL,
  said_at timestamptz NOT NULL
);
CREATE INDEX finding_answers_of ON finding_answers (store_id, since);

ALTER TABLE reviews ENABLE ROW LEVEL SECURITY;
ALTER TABLE reviews FORCE ROW LEVEL SECURITY;
ALTER TABLE findings ENABLE ROW LEVEL SECURITY;
ALTER TABLE findings FORCE ROW LEVEL SECURITY;

ALTER TABLE finding_answers ENABLE ROW LEVEL SECURITY;
ALTER TABLE finding_answers FORCE ROW LEVEL SECURITY;

CREATE POLICY reviews_read ON reviews FOR SELECT TO parings_app
  USING ((select acting_role()) IN ('manager', 'coach', 'owner', 'office', 'nightly'));
CREATE POLICY reviews_add ON reviews FOR INSERT TO parings_app
  WITH CHECK ((select acting_role()) = 'nightly');
-- A single night is a note to the manager and no more, and so is how much is thrown away for safety;
-- what a district shares is head office's.
CREATE POLICY findings_read ON findings FOR SELECT TO parings_app
  USING (CASE (select acting_role())
    WHEN 'office' THEN true
    WHEN 'coach' THEN NOT private AND kind <> 'shared'
      AND district_id = ANY ((select acting_districts())::text[])
    WHEN 'owner' THEN NOT private AND kind <> 'shared'
      AND owner_id = ANY ((select acting_owners())::text[])
    WHEN 'manager' THEN (private OR kind = 'habit')
      AND store_id = ANY ((select acting_stores())::text[])
    WHEN 'nightly' THEN true
    ELSE false
  END);
CREATE POLICY findings_add ON findings FOR INSERT TO parings_app
  WITH CHECK ((select acting_role()) = 'nightly');
CREATE POLICY finding_answers_read ON finding_answers FOR SELECT TO parings_app
  USING ((select acting_role()) = 'office'
    OR (select acting_role()) = 'coach' AND district_id = ANY ((select acting_districts())::text[])
    OR (select acting_role()) = 'owner' AND owner_id = ANY ((select acting_owners())::text[])
    OR (select acting_role()) = 'manager' AND store_id = ANY ((select acting_stores())::text[]));
CREATE POLICY finding_answers_add ON finding_answers FOR INSERT TO parings_app
  WITH CHECK ((select acting_role()) = 'manager' AND said_by = (select acting_person())
    AND store_id = ANY ((select acting_stores())::text[]));
CREATE POLICY reviews_verify ON reviews FOR SELECT TO parings_read USING (true);
CREATE POLICY findings_verify ON findings FOR SELECT TO parings_read USING (true);
CREATE POLICY finding_answers_verify ON finding_answers FOR SELECT TO parings_read USING (true);
GRANT SELECT, INSERT ON reviews, findings, finding_answers TO parings_app;
GRANT SELECT ON reviews, findings, finding_answers TO parings_read;

-- The part that the server takes by itself, while nobody acts: it sees tallies and stores of the
-- whole network, as the part that reviews does. Nobody waits for it, and a large network takes longer
-- than a request may.
CREATE FUNCTION act_for_nightly() RETURNS void LANGUAGE plpgsql AS $$
BEGIN
  IF acting_role() <> '' OR acting_person() IS NOT NULL THEN
    RAISE insufficient_privilege USING MESSAGE = 'somebody acts in this transaction';
  END IF;
  PERFORM set_config('parings.role', 'nightly', true), set_config('parings.stores', '', true),
    set_config('parings.districts', '', true), set_config('parings.owners', '', true),
    set_config('statement_timeout', '600000', true);
END
$$;
ALTER POLICY reference_review ON reference_versions
  USING ((select acting_role()) IN ('review', 'nightly'));
ALTER POLICY item_days_review ON item_days
  USING ((select acting_role()) IN ('review', 'nightly'));
ALTER POLICY item_spans_review ON item_spans
  USING ((select acting_role()) IN ('review', 'nightly'));
ALTER POLICY daypart_tallies_review ON daypart_tallies
  USING ((select acting_role()) IN ('review', 'nightly'));
ALTER POLICY night_tallies_review ON night_tallies
  USING ((select acting_role()) IN ('review', 'nightly'));

-- Of each time zone the review that holds: up to the latest night, then made last.
CREATE FUNCTION reviews_in_force(until date, known timestamptz) RETURNS SETOF bigint
LANGUAGE sql STABLE AS $$
  SELECT DISTINCT ON (zone) id FROM reviews
  WHERE as_of <= until AND made_at <= known
  ORDER BY zone, as_of DESC, id DESC
$$;
