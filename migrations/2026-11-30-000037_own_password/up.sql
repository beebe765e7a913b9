-- Changes the acting person's password, when the old one is still the one that was verified, and ends their
-- other sessions. The row comes before the lock of the sessions, as when head office resets somebody.
CREATE FUNCTION change_own_password(session uuid, verified text, chosen text, at timestamptz)
RETURNS boolean
LANGUAGE plpgsql SECURITY DEFINER SET search_path = public, pg_temp AS $$
BEGIN
  UPDATE people p SET password_hash = chosen, changed_at = at
    WHERE p.id = acting_person() AND p.password_hash = verified;
  IF NOT FOUND THEN
    RETURN false;
  END IF;
  PERFORM lock_sessions_of(acting_person());
  INSERT INTO refresh_families_ended (family, ended_at, reason)
    SELECT DISTINCT t.family, at, 'reset' FROM refresh_tokens t
    WHERE t.person_id = acting_person() AND t.family <> session
  ON CONFLICT DO NOTHING;
  RETURN true;
END
$$;

GRANT UPDATE (password_hash, changed_at) ON people TO parings_signin;
GRANT CREATE ON SCHEMA public TO parings_signin;
ALTER FUNCTION change_own_password(uuid, text, text, timestamptz) OWNER TO parings_signin;
REVOKE CREATE ON SCHEMA public FROM parings_signin;
REVOKE ALL ON FUNCTION change_own_password(uuid, text, text, timestamptz) FROM PUBLIC;
GRANT EXECUTE ON FUNCTION change_own_password(uuid, text, text, timestamptz) TO parings_app;
