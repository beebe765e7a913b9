-- Roles, the acting person, people and their credentials.
--
-- Five roles, none of which is a superuser or may bypass row-level security:
--   parings_owner   owns the schema and runs migrations
--   parings_app     serves requests; sees what the acting person may see
--   parings_signin  owns the few functions that read credentials
--   parings_jobs    night jobs of the whole network
--   parings_read    reads everything, changes nothing (verification, analysis)

DO $$
DECLARE
  needed text;
BEGIN
  FOREACH needed IN ARRAY ARRAY['parings_app', 'parings_signin', 'parings_jobs', 'parings_read'] LOOP
    IF NOT EXISTS (SELECT FROM pg_roles WHERE rolname = needed) THEN
      EXECUTE format('CREATE ROLE %I NOLOGIN', needed);
    END IF;
  END LOOP;
END
$$;

REVOKE ALL ON SCHEMA public FROM PUBLIC;
GRANT USAGE ON SCHEMA public TO parings_app, parings_signin, parings_jobs, parings_read;
-- The server compares the migrations it knows with those that ran.
GRANT SELECT ON __diesel_schema_migrations TO parings_app;

-- The acting person lives in settings that end with the transaction. Policies read them through
-- these functions, always as `(select acting_role())`, so that they are evaluated once a statement.
CREATE FUNCTION acting_person() RETURNS uuid LANGUAGE sql STABLE AS
  $$ SELECT nullif(current_setting('parings.person', true), '')::uuid $$;
CREATE FUNCTION acting_role() RETURNS text LANGUAGE sql STABLE AS
  $$ SELECT coalesce(current_setting('parings.role', true), '') $$;
CREATE FUNCTION acting_stores() RETURNS text[] LANGUAGE sql STABLE AS
  $$ SELECT coalesce(string_to_array(nullif(current_setting('parings.stores', true), ''), ','), '{}') $$;
CREATE FUNCTION acting_districts() RETURNS text[] LANGUAGE sql STABLE AS
  $$ SELECT coalesce(string_to_array(nullif(current_setting('parings.districts', true), ''), ','), '{}') $$;
CREATE FUNCTION acting_owners() RETURNS text[] LANGUAGE sql STABLE AS
  $$ SELECT coalesce(string_to_array(nullif(current_setting('parings.owners', true), ''), ','), '{}') $$;

-- People and services (tills) that sign in. Never deleted: rows elsewhere keep pointing at them.
CREATE TABLE people (
  id uuid PRIMARY KEY,
  kind text NOT NULL CHECK (kind IN ('person', 'service')),
  name text NOT NULL CHECK (name <> ''),
  email text UNIQUE CHECK (email = lower(email)),
  role text NOT NULL CHECK (role IN ('crew', 'manager', 'coach', 'owner', 'office', 'till')),
  places text[] NOT NULL DEFAULT '{}',
  password_hash text,
  secret_hash bytea,
  created_at timestamptz NOT NULL,
  created_by uuid REFERENCES people,
  changed_at timestamptz NOT NULL,
  disabled_at timestamptz,
  CONSTRAINT people_sign_in_by_one_way CHECK (
    (kind = 'person' AND email IS NOT NULL AND secret_hash IS NULL)
    OR (kind = 'service' AND email IS NULL AND password_hash IS NULL)),
  CONSTRAINT people_till_is_a_service CHECK ((role = 'till') = (kind = 'service')),
  CONSTRAINT people_places CHECK ((role = 'office') = (places = '{}'))
);

-- One row a refresh token ever issued. The token itself is never stored: a successor is derived
-- from its parent with a key of the server, so a resend can be answered with the same one.
CREATE TABLE refresh_tokens (
  hash bytea PRIMARY KEY,
  family uuid NOT NULL,
  person_id uuid NOT NULL REFERENCES people,
  issued_at timestamptz NOT NULL,
  expires_at timestamptz NOT NULL,
  used_at timestamptz
);
CREATE INDEX refresh_tokens_family ON refresh_tokens (family);
CREATE INDEX refresh_tokens_person ON refresh_tokens (person_id);

-- Families that ended: by sign-out, by reuse of a spent token, by a disabled or reset account.
CREATE TABLE refresh_families_ended (
  family uuid PRIMARY KEY,
  ended_at timestamptz NOT NULL,
  reason text NOT NULL CHECK (reason IN ('signed_out', 'reused', 'disabled', 'reset'))
);

-- Who did what that matters. Append-only for everybody.
CREATE TABLE audit (
  id bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
  at timestamptz NOT NULL,
  person_id uuid,
  action text NOT NULL,
  target text NOT NULL,
  request_id text NOT NULL,
  store_id text,
  detail jsonb
);
CREATE INDEX audit_store ON audit (store_id, at);

ALTER TABLE people ENABLE ROW LEVEL SECURITY;
ALTER TABLE people FORCE ROW LEVEL SECURITY;
ALTER TABLE refresh_tokens ENABLE ROW LEVEL SECURITY;
ALTER TABLE refresh_tokens FORCE ROW LEVEL SECURITY;
ALTER TABLE refresh_families_ended ENABLE ROW LEVEL SECURITY;
ALTER TABLE refresh_families_ended FORCE ROW LEVEL SECURITY;
ALTER TABLE audit ENABLE ROW LEVEL SECURITY;
ALTER TABLE audit FORCE ROW LEVEL SECURITY;

CREATE POLICY people_read ON people FOR SELECT TO parings_app
  USING ((select acting_role()) = 'office' OR id = (select acting_person()));
CREATE POLICY people_add ON people FOR INSERT TO parings_app
  WITH CHECK ((select acting_role()) = 'office');
CREATE POLICY people_change ON people FOR UPDATE TO parings_app
  USING ((select acting_role()) = 'office') WITH CHECK ((select acting_role()) = 'office');
CREATE POLICY people_signin ON people TO parings_signin USING (true) WITH CHECK (true);
CREATE POLICY tokens_signin ON refresh_tokens TO parings_signin USING (true) WITH CHECK (true);
CREATE POLICY families_signin ON refresh_families_ended TO parings_signin USING (true) WITH CHECK (true);
CREATE POLICY audit_add ON audit FOR INSERT TO parings_app
  WITH CHECK (person_id IS NOT DISTINCT FROM (select acting_person()));
CREATE POLICY audit_read ON audit FOR SELECT TO parings_app
  USING ((select acting_role()) = 'office'
    OR (select acting_role()) = 'manager' AND store_id = ANY ((select acting_stores())::text[]));
CREATE POLICY audit_signin ON audit FOR INSERT TO parings_signin WITH CHECK (true);
CREATE POLICY people_verify ON people FOR SELECT TO parings_read USING (true);
CREATE POLICY audit_verify ON audit FOR SELECT TO parings_read USING (true);

-- Hashes leave the database through the functions of parings_signin only.
GRANT SELECT (id, kind, name, email, role, places, created_at, created_by, changed_at, disabled_at)
  ON people TO parings_app, parings_read;
GRANT INSERT ON people TO parings_app;
GRANT UPDATE (name, role, places, password_hash, secret_hash, changed_at, disabled_at)
  ON people TO parings_app;
GRANT SELECT ON people TO parings_signin;
GRANT SELECT, INSERT, UPDATE ON refresh_tokens TO parings_signin;
GRANT SELECT, INSERT ON refresh_families_ended TO parings_signin;
GRANT INSERT, SELECT ON audit TO parings_app;
GRANT INSERT ON audit TO parings_signin;
GRANT SELECT ON audit TO parings_read;

-- Takes the part of a person for the rest of the transaction. No row: unknown or disabled.
CREATE FUNCTION act_as(who uuid) RETURNS TABLE (name text, role text, places text[])
LANGUAGE plpgsql SECURITY DEFINER SET search_path = public, pg_temp AS $$
DECLARE
  person people%ROWTYPE;
  listed text;
BEGIN
  SELECT * INTO person FROM people p WHERE p.id = who AND p.disabled_at IS NULL;
  IF NOT FOUND THEN
    RETURN;
  END IF;
  listed := array_to_string(person.places, ',');
  PERFORM set_config('parings.person', who::text, true),
    set_config('parings.role', person.role, true),
    set_config('parings.stores',
      CASE WHEN person.role IN ('crew', 'manager', 'till') THEN listed ELSE '' END, true),
    set_config('parings.districts', CASE WHEN person.role = 'coach' THEN listed ELSE '' END, true),
    set_config('parings.owners', CASE WHEN person.role = 'owner' THEN listed ELSE '' END, true);
  RETURN QUERY SELECT person.name, person.role, person.places;
END
$$;
-- Taking a function over needs the right to create one, for that moment only.
GRANT CREATE ON SCHEMA public TO parings_signin;
ALTER FUNCTION act_as(uuid) OWNER TO parings_signin;
REVOKE CREATE ON SCHEMA public FROM parings_signin;
REVOKE ALL ON FUNCTION act_as(uuid) FROM PUBLIC;
GRANT EXECUTE ON FUNCTION act_as(uuid) TO parings_app;
