-- Takes the part of a person within a session. No row when the session is not on record as theirs, or has
-- ended: its access tokens stop with it. A service has no session.
CREATE OR REPLACE FUNCTION act_as(who uuid, session uuid)
RETURNS TABLE (name text, role text, places text[])
LANGUAGE plpgsql SECURITY DEFINER SET search_path = public, pg_temp AS $$
BEGIN
  IF session IS NOT NULL AND (
    NOT EXISTS (SELECT FROM refresh_tokens t WHERE t.family = session AND t.person_id = who)
    OR EXISTS (SELECT FROM refresh_families_ended e WHERE e.family = session)) THEN
    RETURN;
  END IF;
  RETURN QUERY SELECT a.name, a.role, a.places FROM act_as(who) a;
END
$$;
