-- The diary of a store: what happened there that no figure tells (a new manager, blade or scale, a fryer
-- out, roadworks, a fair), from one date to another. A span may be set aside, so that no review looks at
-- its nights; that is for coaches and head office to say. What was written stays; it may be withdrawn.
CREATE TABLE diary_entries (
  id uuid PRIMARY KEY,
  store_id text NOT NULL,
  -- Where the store stood on the first date.
  district_id text NOT NULL,
  owner_id text NOT NULL,
  kind text NOT NULL,
  from_date date NOT NULL,
  to_date date NOT NULL CHECK (to_date >= from_date),
  sets_aside boolean NOT NULL,
  said text NOT NULL CHECK (said <> ''),
  said_by uuid NOT NULL,
  said_at timestamptz NOT NULL
);
CREATE INDEX diary_entries_of ON diary_entries (store_id, from_date);

CREATE TABLE diary_withdrawals (
  entry_id uuid PRIMARY KEY REFERENCES diary_entries (id),
  reason text NOT NULL CHECK (reason <> ''),
  withdrawn_by uuid NOT NULL,
  withdrawn_at timestamptz NOT NULL
);

ALTER TABLE diary_entries ENABLE ROW LEVEL SECURITY;
ALTER TABLE diary_entries FORCE ROW LEVEL SECURITY;
ALTER TABLE diary_withdrawals ENABLE ROW LEVEL SECURITY;
ALTER TABLE diary_withdrawals FORCE ROW LEVEL SECURITY;

CREATE POLICY diary_entries_read ON diary_entries FOR SELECT TO parings_app
  USING ((select acting_role()) IN ('office', 'review', 'nightly')
    OR (select acting_role()) = 'coach' AND district_id = ANY ((select acting_districts())::text[])
    OR (select acting_role()) = 'owner' AND owner_id = ANY ((select acting_owners())::text[])
    OR (select acting_role()) = 'manager' AND store_id = ANY ((select acting_stores())::text[]));
CREATE POLICY diary_entries_add ON diary_entries FOR INSERT TO parings_app
  WITH CHECK (said_by = (select acting_person())
    AND CASE (select acting_role())
      WHEN 'office' THEN true
      WHEN 'coach' THEN district_id = ANY ((select acting_districts())::text[])
      WHEN 'manager' THEN store_id = ANY ((select acting_stores())::text[]) AND NOT sets_aside
      ELSE false
    END);
-- What was withdrawn is read by who reads the entry; who wrote it withdraws it, or a coach or head office.
CREATE POLICY diary_withdrawals_read ON diary_withdrawals FOR SELECT TO parings_app
  USING (EXISTS (SELECT FROM diary_entries e WHERE e.id = entry_id));
CREATE POLICY diary_withdrawals_add ON diary_withdrawals FOR INSERT TO parings_app
  WITH CHECK (withdrawn_by = (select acting_person())
    AND EXISTS (SELECT FROM diary_entries e WHERE e.id = entry_id
      AND ((select acting_role()) IN ('coach', 'office')
        OR (select acting_role()) = 'manager' AND e.said_by = (select acting_person()))));
CREATE POLICY diary_entries_verify ON diary_entries FOR SELECT TO parings_read USING (true);
CREATE POLICY diary_withdrawals_verify ON diary_withdrawals FOR SELECT TO parings_read USING (true);
GRANT SELECT, INSERT ON diary_entries, diary_withdrawals TO parings_app;
GRANT SELECT ON diary_entries, diary_withdrawals TO parings_read;
