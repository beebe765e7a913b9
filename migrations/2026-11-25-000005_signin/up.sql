-- Signing in. What reads or writes credentials is a function of parings_signin: the application's
-- role has no grant on the hashes of passwords, secrets or tokens.

-- The owner's command line adds the first person, when nobody can act yet.
CREATE POLICY people_owner ON people TO CURRENT_USER USING (true) WITH CHECK (true);
CREATE POLICY audit_owner ON audit FOR INSERT TO CURRENT_USER WITH CHECK (true);

GRANT CREATE ON SCHEMA public TO parings_signin;

-- The account of an e-mail address, for comparing a password with its hash.
CREATE FUNCTION account_of(address text)
RETURNS TABLE (id uuid, name text, role text, places text[], password_hash text, disabled boolean)
LANGUAGE sql STABLE SECURITY DEFINER SET search_path = public, pg_temp AS $$
  SELECT p.id, p.name, p.role, p.places, p.password_hash, p.disabled_at IS NOT NULL
  FROM people p WHERE p.email = address
$$;

-- Whether a service has this secret. Both sides are hashed once more with a salt of the moment, so
-- how long the comparison takes says nothing about the bytes that are kept.
CREATE FUNCTION service_has_secret(who uuid, hash bytea) RETURNS boolean
LANGUAGE sql VOLATILE SECURITY DEFINER SET search_path = public, pg_temp AS $$
  WITH salt AS MATERIALIZED (SELECT uuid_send(gen_random_uuid()) AS bytes),
  kept AS (
    SELECT p.secret_hash FROM people p
    WHERE p.id = who AND p.kind = 'service' AND p.disabled_at IS NULL)
  SELECT sha256(salt.bytes || hash) = sha256(salt.bytes || coalesce(kept.secret_hash, ''))
    AND kept.secret_hash IS NOT NULL
  FROM salt LEFT JOIN kept ON true
$$;

-- Sessions of one person start and end one after the other: a reset or a disabled account is never
-- overtaken by a sign-in that looked at the records before it.
CREATE FUNCTION lock_sessions_of(who uuid) RETURNS void LANGUAGE sql AS
  $$ SELECT pg_advisory_xact_lock(hashtextextended('sessions of ' || who::text, 0)) $$;

-- Starts a session with its first refresh token. False when the account was disabled or its
-- password changed while the old one was being verified.
CREATE FUNCTION start_session(
  who uuid, verified text, session uuid, hash bytea, at timestamptz, until timestamptz)
RETURNS boolean LANGUAGE plpgsql SECURITY DEFINER SET search_path = public, pg_temp AS $$
BEGIN
  PERFORM lock_sessions_of(who);
  PERFORM FROM people p
    WHERE p.id = who AND p.disabled_at IS NULL AND p.password_hash = verified;
  IF NOT FOUND THEN
    RETURN false;
  END IF;
  INSERT INTO refresh_tokens (hash, family, person_id, issued_at, expires_at)
    VALUES (hash, session, who, at, until);
  RETURN true;
END
$$;

-- Spends a refresh token for its successor. The outcome is one of
--   fresh     the successor was issued now
--   resent    the token was spent less than `resend_window` ago: the same successor, once more
--   reused    it was spent earlier: somebody has a copy, and the session ends
--   expired, ended, unknown
-- Two requests with one token wait for each other at its row and get the same successor.
CREATE FUNCTION refresh_session(
  token bytea, successor bytea, at timestamptz, until timestamptz, resend_window interval)
RETURNS TABLE (outcome text, person_id uuid, session uuid)
LANGUAGE plpgsql SECURITY DEFINER SET search_path = public, pg_temp AS $$
#variable_conflict use_column
DECLARE
  spent refresh_tokens%ROWTYPE;
BEGIN
  SELECT * INTO spent FROM refresh_tokens t WHERE t.hash = token FOR UPDATE;
  IF NOT FOUND THEN
    RETURN QUERY SELECT 'unknown', NULL::uuid, NULL::uuid;
  ELSIF EXISTS (SELECT FROM refresh_families_ended e WHERE e.family = spent.family)
    OR NOT EXISTS (SELECT FROM people p WHERE p.id = spent.person_id AND p.disabled_at IS NULL) THEN
    RETURN QUERY SELECT 'ended', spent.person_id, spent.family;
  ELSIF spent.expires_at <= at THEN
    RETURN QUERY SELECT 'expired', spent.person_id, spent.family;
  ELSIF spent.used_at IS NULL THEN
    UPDATE refresh_tokens t SET used_at = at WHERE t.hash = token;
    INSERT INTO refresh_tokens (hash, family, person_id, issued_at, expires_at)
      VALUES (successor, spent.family, spent.person_id, at, until);
    RETURN QUERY SELECT 'fresh', spent.person_id, spent.family;
  ELSIF at <= spent.used_at + resend_window THEN
    RETURN QUERY SELECT 'resent', spent.person_id, spent.family;
  ELSE
    INSERT INTO refresh_families_ended (family, ended_at, reason)
      VALUES (spent.family, at, 'reused') ON CONFLICT DO NOTHING;
    RETURN QUERY SELECT 'reused', spent.person_id, spent.family;
  END IF;
END
$$;

-- Ends the session of a refresh token, whatever its state. No row: there is no such token.
CREATE FUNCTION end_session(token bytea, at timestamptz) RETURNS TABLE (person_id uuid, session uuid)
LANGUAGE plpgsql SECURITY DEFINER SET search_path = public, pg_temp AS $$
#variable_conflict use_column
BEGIN
  RETURN QUERY
    WITH ended AS (SELECT t.person_id, t.family FROM refresh_tokens t WHERE t.hash = token),
    noted AS (
      INSERT INTO refresh_families_ended (family, ended_at, reason)
      SELECT ended.family, at, 'signed_out' FROM ended ON CONFLICT DO NOTHING)
    SELECT ended.person_id, ended.family FROM ended;
END
$$;

-- Ends one session of the acting person.
CREATE FUNCTION end_own_session(session uuid, at timestamptz) RETURNS void
LANGUAGE plpgsql SECURITY DEFINER SET search_path = public, pg_temp AS $$
BEGIN
  INSERT INTO refresh_families_ended (family, ended_at, reason)
    SELECT DISTINCT t.family, at, 'signed_out' FROM refresh_tokens t
    WHERE t.family = session AND t.person_id = acting_person()
  ON CONFLICT DO NOTHING;
END
$$;

-- Ends every session of a person: head office's doing, or the owner's command line's.
CREATE FUNCTION end_sessions_of(who uuid, at timestamptz, why text) RETURNS void
LANGUAGE plpgsql SECURITY DEFINER SET search_path = public, pg_temp AS $$
BEGIN
  IF acting_role() <> 'office' AND NOT pg_has_role(session_user, 'parings_signin', 'MEMBER') THEN
    RAISE insufficient_privilege USING MESSAGE = 'the acting person may not end these sessions';
  END IF;
  PERFORM lock_sessions_of(who);
  INSERT INTO refresh_families_ended (family, ended_at, reason)
    SELECT DISTINCT t.family, at, why FROM refresh_tokens t WHERE t.person_id = who
  ON CONFLICT DO NOTHING;
END
$$;

-- Takes the part of a person within a session. No row also when the session has ended: its access
-- tokens stop with it.
CREATE FUNCTION act_as(who uuid, session uuid)
RETURNS TABLE (name text, role text, places text[])
LANGUAGE plpgsql SECURITY DEFINER SET search_path = public, pg_temp AS $$
BEGIN
  IF EXISTS (SELECT FROM refresh_families_ended e WHERE e.family = session) THEN
    RETURN;
  END IF;
  RETURN QUERY SELECT a.name, a.role, a.places FROM act_as(who) a;
END
$$;

DO $$
DECLARE
  signature text;
BEGIN
  FOREACH signature IN ARRAY ARRAY[
    'account_of(text)', 'service_has_secret(uuid, bytea)',
    'start_session(uuid, text, uuid, bytea, timestamptz, timestamptz)',
    'refresh_session(bytea, bytea, timestamptz, timestamptz, interval)',
    'end_session(bytea, timestamptz)', 'end_own_session(uuid, timestamptz)',
    'end_sessions_of(uuid, timestamptz, text)', 'act_as(uuid, uuid)']
  LOOP
    EXECUTE format('ALTER FUNCTION %s OWNER TO parings_signin', signature);
    EXECUTE format('REVOKE ALL ON FUNCTION %s FROM PUBLIC', signature);
    EXECUTE format('GRANT EXECUTE ON FUNCTION %s TO parings_app', signature);
  END LOOP;
END
$$;

REVOKE CREATE ON SCHEMA public FROM parings_signin;
