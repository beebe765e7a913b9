CREATE OR REPLACE FUNCTION act_as(who uuid, session uuid)
RETURNS TABLE (name text, role text, places text[])
LANGUAGE plpgsql SECURITY DEFINER SET search_path = public, pg_temp AS $$
BEGIN
  IF EXISTS (SELECT FROM refresh_families_ended e WHERE e.family = session) THEN
    RETURN;
  END IF;
  RETURN QUERY SELECT a.name, a.role, a.places FROM act_as(who) a;
END
$$;
