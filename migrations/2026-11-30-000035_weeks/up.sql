-- What the nights of a store's week add up to, so that a long span of a large network is not added up
-- night by night; core packs it (`parings_core::rollup::Week`). A row says nothing that the nights do not
-- say. It is made beside them, by a part that nobody waits for, and whoever reads it compares how many
-- nights there are, and by which generations they stand, with what it was made of: where that differs the
-- nights are read themselves.
CREATE FUNCTION week_of(night date) RETURNS date LANGUAGE sql IMMUTABLE PARALLEL SAFE
RETURN night - (night - date '2000-01-03') % 7;

-- By which nights a week stands.
CREATE FUNCTION stands_by(night date, generation bigint) RETURNS bigint
LANGUAGE sql IMMUTABLE PARALLEL SAFE
RETURN hashint8extended(generation, night - date '2000-01-03');

CREATE TABLE weeks (
  -- Its Monday.
  week date NOT NULL,
  store_id text NOT NULL,
  -- Where the store stood on every night of it; of a week within which it moved there is no row.
  district_id text NOT NULL,
  region_id text NOT NULL,
  owner_id text NOT NULL,
  -- The oldest version of the rules that made any of its nights.
  rules smallint NOT NULL,
  -- The version of the form in which core packed it; one of another is not read.
  form smallint NOT NULL,
  -- How many nights it adds up, and by which they stand.
  nights bigint NOT NULL,
  stands bigint NOT NULL,
  codes text NOT NULL,
  packed bytea NOT NULL,
  PRIMARY KEY (week, store_id)
);
ALTER TABLE weeks ALTER COLUMN packed SET STORAGE MAIN;
ALTER TABLE weeks ALTER COLUMN codes SET STORAGE MAIN;

ALTER TABLE weeks ENABLE ROW LEVEL SECURITY;
ALTER TABLE weeks FORCE ROW LEVEL SECURITY;
-- Who may read the nights.
CREATE POLICY weeks_read ON weeks FOR SELECT TO parings_app USING (
  (select acting_role()) IN ('office', 'review', 'nightly')
  OR (select acting_role()) IN ('rules', 'manager')
    AND store_id = ANY ((select acting_stores())::text[])
  OR (select acting_role()) = 'coach' AND district_id = ANY ((select acting_districts())::text[])
  OR (select acting_role()) = 'owner' AND owner_id = ANY ((select acting_owners())::text[]));
CREATE POLICY weeks_add ON weeks FOR INSERT TO parings_app WITH CHECK (
  (select acting_role()) = 'rules' AND store_id = ANY ((select acting_stores())::text[]));
CREATE POLICY weeks_change ON weeks FOR UPDATE TO parings_app USING (
  (select acting_role()) = 'rules' AND store_id = ANY ((select acting_stores())::text[]));
CREATE POLICY weeks_verify ON weeks FOR SELECT TO parings_read USING (true);
GRANT SELECT, INSERT, UPDATE ON weeks TO parings_app;
GRANT SELECT ON weeks TO parings_read;

-- By which generations the nights of a span stand, and who may see them, is read from the index alone.
ALTER TABLE nights DROP CONSTRAINT nights_pkey;
ALTER TABLE nights ADD PRIMARY KEY (store_id, business_date)
  INCLUDE (generation, sampled, district_id, region_id, owner_id);
