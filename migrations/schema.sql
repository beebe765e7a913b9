-- The schema as the migrations leave it, without the months that facts lie in. Written by a test;
-- do not edit.

CREATE SCHEMA unpacked;

CREATE FUNCTION public.account_of(address text) RETURNS TABLE(id uuid, name text, role text, places text[], password_hash text, disabled boolean)
    LANGUAGE sql STABLE SECURITY DEFINER
    SET search_path TO 'public', 'pg_temp'
    AS $$
  SELECT p.id, p.name, p.role, p.places, p.password_hash, p.disabled_at IS NOT NULL
  FROM people p WHERE p.email = address
$$;

CREATE FUNCTION public.act_as(who uuid) RETURNS TABLE(name text, role text, places text[])
    LANGUAGE plpgsql SECURITY DEFINER
    SET search_path TO 'public', 'pg_temp'
    AS $$
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

CREATE FUNCTION public.act_as(who uuid, session uuid) RETURNS TABLE(name text, role text, places text[])
    LANGUAGE plpgsql SECURITY DEFINER
    SET search_path TO 'public', 'pg_temp'
    AS $$
BEGIN
  IF session IS NOT NULL AND (
    NOT EXISTS (SELECT FROM refresh_tokens t WHERE t.family = session AND t.person_id = who)
    OR EXISTS (SELECT FROM refresh_families_ended e WHERE e.family = session)) THEN
    RETURN;
  END IF;
  RETURN QUERY SELECT a.name, a.role, a.places FROM act_as(who) a;
END
$$;

CREATE FUNCTION public.act_at_opening(store text) RETURNS void
    LANGUAGE plpgsql
    AS $$
BEGIN
  IF acting_role() <> '' OR acting_person() IS NOT NULL THEN
    RAISE insufficient_privilege USING MESSAGE = 'somebody acts in this transaction';
  END IF;
  PERFORM set_config('parings.role', 'rules', true), set_config('parings.stores', store, true),
    set_config('parings.districts', '', true), set_config('parings.owners', '', true);
END
$$;

CREATE FUNCTION public.act_for_nightly() RETURNS void
    LANGUAGE plpgsql
    AS $$
BEGIN
  IF acting_role() <> '' OR acting_person() IS NOT NULL THEN
    RAISE insufficient_privilege USING MESSAGE = 'somebody acts in this transaction';
  END IF;
  PERFORM set_config('parings.role', 'nightly', true), set_config('parings.stores', '', true),
    set_config('parings.districts', '', true), set_config('parings.owners', '', true),
    set_config('statement_timeout', '600000', true);
END
$$;

CREATE FUNCTION public.act_for_prep(store text) RETURNS void
    LANGUAGE plpgsql
    AS $$
BEGIN
  IF acting_role() NOT IN ('crew', 'manager', 'coach', 'owner', 'office')
     OR NOT EXISTS (SELECT FROM reference_versions v WHERE v.kind = 'stores' AND v.code = store) THEN
    RAISE insufficient_privilege USING MESSAGE = 'the acting person may not read this store';
  END IF;
  PERFORM set_config('transaction_read_only', 'on', true), set_config('parings.role', 'rules', true),
    set_config('parings.stores', store, true), set_config('parings.districts', '', true),
    set_config('parings.owners', '', true);
END
$$;

CREATE FUNCTION public.act_for_recall(stores text[]) RETURNS void
    LANGUAGE plpgsql
    AS $$
DECLARE
  readable text[];
BEGIN
  IF acting_role() NOT IN ('manager', 'coach', 'owner', 'office') THEN
    RAISE insufficient_privilege USING MESSAGE = 'the acting person may not read figures';
  END IF;
  SELECT array_agg(s) INTO readable FROM unnest(stores) AS s
    WHERE acting_role() = 'office'
      OR EXISTS (SELECT FROM reference_versions v WHERE v.kind = 'stores' AND v.code = s);
  PERFORM set_config('transaction_read_only', 'on', true), set_config('parings.role', 'rules', true),
    set_config('parings.stores', coalesce(array_to_string(readable, ','), ''), true),
    set_config('parings.districts', '', true), set_config('parings.owners', '', true);
END
$$;

CREATE FUNCTION public.act_for_review(district text) RETURNS void
    LANGUAGE plpgsql
    AS $$
BEGIN
  IF acting_role() <> 'office'
     AND NOT (acting_role() = 'coach' AND district = ANY (acting_districts())) THEN
    RAISE insufficient_privilege USING MESSAGE = 'the acting person may not review this district';
  END IF;
  PERFORM set_config('transaction_read_only', 'on', true), set_config('parings.role', 'review', true),
    set_config('parings.stores', '', true), set_config('parings.districts', '', true),
    set_config('parings.owners', '', true);
END
$$;

CREATE FUNCTION public.act_for_rules(store text) RETURNS void
    LANGUAGE plpgsql
    AS $$
BEGIN
  IF acting_role() <> 'office'
     AND NOT (acting_role() IN ('crew', 'manager', 'till', 'rules')
       AND store = ANY (acting_stores()))
     AND NOT (acting_role() = 'coach' AND EXISTS (
       SELECT FROM night_settlements s WHERE s.store_id = store
         AND s.district_id = ANY (acting_districts()) AND s.settled_by = acting_person()
         AND s.xmin = pg_current_xact_id_if_assigned()::xid)) THEN
    RAISE insufficient_privilege USING MESSAGE = 'the acting person may not write to this store';
  END IF;
  PERFORM set_config('parings.role', 'rules', true), set_config('parings.stores', store, true),
    set_config('parings.districts', '', true), set_config('parings.owners', '', true);
END
$$;

CREATE FUNCTION public.acting_districts() RETURNS text[]
    LANGUAGE sql STABLE
    AS $$ SELECT coalesce(string_to_array(nullif(current_setting('parings.districts', true), ''), ','), '{}') $$;

CREATE FUNCTION public.acting_owners() RETURNS text[]
    LANGUAGE sql STABLE
    AS $$ SELECT coalesce(string_to_array(nullif(current_setting('parings.owners', true), ''), ','), '{}') $$;

CREATE FUNCTION public.acting_person() RETURNS uuid
    LANGUAGE sql STABLE
    AS $$ SELECT nullif(current_setting('parings.person', true), '')::uuid $$;

CREATE FUNCTION public.acting_role() RETURNS text
    LANGUAGE sql STABLE
    AS $$ SELECT coalesce(current_setting('parings.role', true), '') $$;

CREATE FUNCTION public.acting_stores() RETURNS text[]
    LANGUAGE sql STABLE
    AS $$ SELECT coalesce(string_to_array(nullif(current_setting('parings.stores', true), ''), ','), '{}') $$;

CREATE FUNCTION public.change_own_password(session uuid, verified text, chosen text, at timestamp with time zone) RETURNS boolean
    LANGUAGE plpgsql SECURITY DEFINER
    SET search_path TO 'public', 'pg_temp'
    AS $$
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

CREATE FUNCTION public.end_own_session(session uuid, at timestamp with time zone) RETURNS void
    LANGUAGE plpgsql SECURITY DEFINER
    SET search_path TO 'public', 'pg_temp'
    AS $$
BEGIN
  INSERT INTO refresh_families_ended (family, ended_at, reason)
    SELECT DISTINCT t.family, at, 'signed_out' FROM refresh_tokens t
    WHERE t.family = session AND t.person_id = acting_person()
  ON CONFLICT DO NOTHING;
END
$$;

CREATE FUNCTION public.end_session(token bytea, at timestamp with time zone) RETURNS TABLE(person_id uuid, session uuid)
    LANGUAGE plpgsql SECURITY DEFINER
    SET search_path TO 'public', 'pg_temp'
    AS $$
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

CREATE FUNCTION public.end_sessions_of(who uuid, at timestamp with time zone, why text) RETURNS void
    LANGUAGE plpgsql SECURITY DEFINER
    SET search_path TO 'public', 'pg_temp'
    AS $$
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

CREATE FUNCTION public.first_accepted(store text, night date) RETURNS timestamp with time zone
    LANGUAGE plpgsql
    AS $$
DECLARE
  role text := acting_role();
  stores text := current_setting('parings.stores', true);
  districts text := current_setting('parings.districts', true);
  owners text := current_setting('parings.owners', true);
  accepted timestamptz;
BEGIN
  IF role IN ('crew', 'till') THEN
    PERFORM act_for_rules(store);
  END IF;
  SELECT min(CASE WHEN r.state = 'accepted' THEN r.recorded_at ELSE s.recorded_at END)
    INTO accepted
    FROM night_revisions r LEFT JOIN night_settlements s
      ON s.store_id = r.store_id AND s.business_date = r.business_date AND s.revision = r.revision
    WHERE r.store_id = store AND r.business_date = night
      AND (r.state = 'accepted' OR s.outcome = 'accepted');
  PERFORM set_config('parings.role', role, true), set_config('parings.stores', stores, true),
    set_config('parings.districts', districts, true), set_config('parings.owners', owners, true);
  RETURN accepted;
END
$$;

CREATE FUNCTION public.just_approved(store text, night date) RETURNS TABLE(proposed_by uuid)
    LANGUAGE sql STABLE
    AS $$
  SELECT r.submitted_by FROM night_settlements s
    JOIN night_revisions r USING (business_date, store_id, revision)
  WHERE s.store_id = store AND s.business_date = night AND s.outcome = 'accepted'
    AND s.xmin = pg_current_xact_id_if_assigned()::xid AND s.settled_by = acting_person()
    AND s.settled_by <> r.submitted_by AND r.state = 'proposed'
$$;

CREATE FUNCTION public.left_of(asked uuid[]) RETURNS TABLE(name text)
    LANGUAGE sql STABLE SECURITY DEFINER
    SET search_path TO 'public', 'pg_temp'
    AS $$
  SELECT DISTINCT p.name FROM people p
  WHERE p.id = ANY (asked) AND p.disabled_at IS NOT NULL AND acting_role() IN ('crew', 'manager')
  ORDER BY p.name
$$;

CREATE FUNCTION public.lock_sessions_of(who uuid) RETURNS void
    LANGUAGE sql
    AS $$ SELECT pg_advisory_xact_lock(hashtextextended('sessions of ' || who::text, 0)) $$;

CREATE FUNCTION public.lots_in_review(first date, last date) RETURNS TABLE(store_id text, business_date date, item_id text, lot text)
    LANGUAGE sql STABLE SECURITY DEFINER
    SET search_path TO 'public', 'pg_temp'
    AS $$
  SELECT DISTINCT ON (e.store_id, e.business_date, e.body ->> 'item')
    e.store_id, e.business_date, e.body ->> 'item', e.body ->> 'lot'
  FROM entries e
  WHERE e.business_date BETWEEN first AND last AND e.body ->> 'lot' IS NOT NULL
    AND acting_role() IN ('review', 'nightly')
    AND NOT EXISTS (SELECT FROM entry_withdrawals w WHERE w.entry_id = e.id)
  ORDER BY e.store_id, e.business_date, e.body ->> 'item', e.kind = 'batch' DESC,
    e.recorded_at DESC, e.id
$$;

CREATE FUNCTION public.make_partitions(earliest date, latest date) RETURNS integer
    LANGUAGE plpgsql
    AS $$
DECLARE
  parent regclass;
  month date;
  part text;
  made integer := 0;
BEGIN
  FOR parent IN
    SELECT c.oid FROM pg_class c WHERE c.relkind = 'p' AND c.relnamespace = 'public'::regnamespace
  LOOP
    month := date_trunc('month', earliest);
    WHILE month <= latest LOOP
      part := format('%s_%s', parent::text, to_char(month, 'YYYY_MM'));
      IF to_regclass(part) IS NULL THEN
        EXECUTE format('CREATE TABLE %I PARTITION OF %s FOR VALUES FROM (%L) TO (%L)',
          part, parent, month, (month + interval '1 month')::date);
        made := made + 1;
      END IF;
      month := month + interval '1 month';
    END LOOP;
  END LOOP;
  RETURN made;
END
$$;

CREATE FUNCTION public.night_parts(counted text, others text, packed bytea) RETURNS TABLE(part text, codes text[], numbers bigint[])
    LANGUAGE plpgsql IMMUTABLE STRICT PARALLEL SAFE
    AS $$
DECLARE
  kinds text[] := string_to_array(others, '|');
  items text[] := string_to_array(btrim(btrim(counted) || ' ' || kinds[1]), ' ');
  reasons text[] := string_to_array(kinds[2], ' ');
  stages text[] := string_to_array(kinds[3], ' ');
  dayparts text[] := string_to_array(kinds[4], ' ');
  channels text[] := string_to_array(kinds[5], ' ');
  n bigint[] := packed_numbers(packed);
  i integer := 2;
  night_sales bigint := 0;
  night_units bigint := 0;
  bits bigint;
  many bigint;
  bin bigint;
  r bigint[];
  d bigint[];
  s bigint[];
BEGIN
  IF n[1] <> 1 THEN
    RAISE EXCEPTION 'a packed night is of version %, which is not known', n[1];
  END IF;
  SELECT record, after INTO r, i FROM packed_record(n, i, 9);
  bits := n[i + 1];
  many := n[i];
  i := i + 2;
  IF bits & 1 <> 0 THEN
    night_sales := (n[i] >> 1) # -(n[i] & 1);
    i := i + 1;
  END IF;
  IF bits & 2 <> 0 THEN
    night_units := n[i];
    i := i + 1;
  END IF;
  part := 'night';
  codes := '{}';
  numbers := ARRAY[many, bits, night_sales, night_units] || r;
  RETURN NEXT;
  FOR item IN 1 .. coalesce(cardinality(items), 0) LOOP
    bits := n[i];
    i := i + 1;
    d := array_fill(0::bigint, ARRAY[25]);
    IF bits & 1 <> 0 THEN
      SELECT record, after INTO r, i FROM packed_record(n, i, 20);
      d[1:20] := r;
    END IF;
    IF bits & 4 <> 0 THEN
      SELECT record, after INTO r, i FROM packed_record(n, i, 2);
      d[21:22] := r;
    END IF;
    IF bits & 8 <> 0 THEN
      SELECT record, after INTO r, i FROM packed_record(n, i, 3);
      d[23:25] := r;
    END IF;
    IF bits & (1 | 2) <> 0 THEN
      part := 'item';
      codes := ARRAY[items[item]];
      numbers := (bits & (1 | 2 | 4)) || d;
      RETURN NEXT;
    END IF;
    IF bits & 16 <> 0 THEN
      many := n[i];
      i := i + 1;
      FOR line IN 1 .. many LOOP
        part := 'waste';
        codes := ARRAY[items[item], reasons[n[i] + 1],
          CASE n[i + 1] WHEN 0 THEN '' ELSE stages[n[i + 1]] END,
          CASE n[i + 2] WHEN 0 THEN '' ELSE dayparts[n[i + 2]] END];
        SELECT record, after INTO numbers, i FROM packed_record(n, i + 3, 3);
        RETURN NEXT;
      END LOOP;
    END IF;
    IF bits & 32 <> 0 THEN
      SELECT record, after INTO s, i FROM packed_record(n, i, 31);
      s[4] := s[4] + 31;
      s[5] := s[5] + 1;
      s[6] := s[6] + 1;
      s[7] := s[7] + d[1];
      s[8] := s[8] + d[2];
      s[9] := s[9] + d[11];
      s[10] := s[10] + d[12];
      s[11] := s[11] + s[8] + s[10] + s[3];
      s[12] := s[12] + night_sales;
      s[13] := s[13] + d[5];
      s[14] := s[14] + d[14];
      s[15] := s[15] + d[15];
      s[16] := s[16] + d[13];
      s[17] := s[17] + d[3] - d[16];
      s[18] := s[18] + d[4] - d[17];
      s[19] := s[19] + d[16];
      s[20] := s[20] + d[17];
      s[21] := s[21] + d[9];
      s[22] := s[22] + d[10];
      s[23] := s[23] + d[21];
      s[24] := s[24] + d[22];
      s[25] := s[25] + s[1] + s[13] + s[14] + s[16] - s[15] - s[19] - s[23];
      s[26] := s[26] + d[23];
      s[27] := s[27] + d[24];
      s[28] := s[28] + d[25];
      part := 'span';
      codes := ARRAY[items[item]];
      numbers := s;
      RETURN NEXT;
    END IF;
  END LOOP;
  many := n[i];
  i := i + 1;
  FOR one IN 1 .. many LOOP
    part := 'daypart';
    codes := ARRAY[dayparts[n[i] + 1], channels[n[i + 1] + 1]];
    SELECT record, after INTO r, i FROM packed_record(n, i + 2, 3);
    numbers := r;
    SELECT record, after INTO r, i FROM packed_record(n, i, 5);
    numbers := numbers || r;
    RETURN NEXT;
    part := 'times';
    bin := 0;
    bits := n[i];
    i := i + 1;
    FOR time IN 1 .. bits LOOP
      bin := bin + n[i];
      numbers := ARRAY[bin, n[i + 1]];
      i := i + 2;
      RETURN NEXT;
    END LOOP;
  END LOOP;
END
$$;

CREATE FUNCTION public.night_pin(store text, night date) RETURNS timestamp with time zone
    LANGUAGE plpgsql
    AS $$
DECLARE
  role text := acting_role();
  stores text := current_setting('parings.stores', true);
  districts text := current_setting('parings.districts', true);
  owners text := current_setting('parings.owners', true);
  pinned timestamptz;
BEGIN
  PERFORM act_for_rules(store);
  SELECT n.known_at INTO pinned FROM nights n
    WHERE n.store_id = store AND n.business_date = night;
  PERFORM set_config('parings.role', role, true), set_config('parings.stores', stores, true),
    set_config('parings.districts', districts, true), set_config('parings.owners', owners, true);
  RETURN pinned;
END
$$;

CREATE FUNCTION public.nights_held(since date) RETURNS TABLE(business_date date, store_id text, revision integer)
    LANGUAGE sql STABLE SECURITY DEFINER
    SET search_path TO 'public', 'pg_temp'
    AS $$
  SELECT r.business_date, r.store_id, r.revision FROM night_revisions r
  WHERE acting_role() = '' AND r.state = 'held' AND r.business_date >= since
    AND NOT EXISTS (SELECT FROM night_settlements s WHERE s.business_date = r.business_date
      AND s.store_id = r.store_id AND s.revision = r.revision)
  ORDER BY r.business_date, r.store_id, r.revision
$$;

CREATE FUNCTION public.packed_numbers(packed bytea) RETURNS bigint[]
    LANGUAGE plpgsql IMMUTABLE STRICT PARALLEL SAFE
    AS $$
DECLARE
  found bigint[];
  many integer := 0;
  value bigint := 0;
  shift integer := 0;
  byte integer;
BEGIN
  FOR n IN 0 .. length(packed) - 1 LOOP
    byte := get_byte(packed, n);
    value := value | ((byte & 127)::bigint << shift);
    shift := shift + 7;
    IF byte < 128 THEN
      many := many + 1;
      found[many] := value;
      value := 0;
      shift := 0;
    END IF;
  END LOOP;
  RETURN found;
END
$$;

CREATE FUNCTION public.packed_record(numbers bigint[], place integer, fields integer, OUT record bigint[], OUT after integer) RETURNS record
    LANGUAGE plpgsql IMMUTABLE PARALLEL SAFE
    AS $$
DECLARE
  bits bigint := numbers[place];
BEGIN
  record := array_fill(0::bigint, ARRAY[fields]);
  after := place + 1;
  FOR n IN 1 .. fields LOOP
    IF (bits >> (n - 1)) & 1 = 1 THEN
      record[n] := (numbers[after] >> 1) # -(numbers[after] & 1);
      after := after + 1;
    END IF;
  END LOOP;
END
$$;

CREATE FUNCTION public.refresh_session(token bytea, successor bytea, at timestamp with time zone, until timestamp with time zone, resend_window interval) RETURNS TABLE(outcome text, person_id uuid, session uuid)
    LANGUAGE plpgsql SECURITY DEFINER
    SET search_path TO 'public', 'pg_temp'
    AS $$
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

CREATE FUNCTION public.reviews_in_force(until date, known timestamp with time zone) RETURNS SETOF bigint
    LANGUAGE sql STABLE
    AS $$
  SELECT DISTINCT ON (zone) id FROM reviews
  WHERE as_of <= until AND made_at <= known
  ORDER BY zone, as_of DESC, id DESC
$$;

CREATE FUNCTION public.service_has_secret(who uuid, hash bytea) RETURNS boolean
    LANGUAGE sql SECURITY DEFINER
    SET search_path TO 'public', 'pg_temp'
    AS $$
  WITH salt AS MATERIALIZED (SELECT uuid_send(gen_random_uuid()) AS bytes),
  kept AS (
    SELECT p.secret_hash FROM people p
    WHERE p.id = who AND p.kind = 'service' AND p.disabled_at IS NULL)
  SELECT sha256(salt.bytes || hash) = sha256(salt.bytes || coalesce(kept.secret_hash, ''))
    AND kept.secret_hash IS NOT NULL
  FROM salt LEFT JOIN kept ON true
$$;

CREATE FUNCTION public.stands_by(night date, generation bigint) RETURNS bigint
    LANGUAGE sql IMMUTABLE PARALLEL SAFE
    RETURN hashint8extended(generation, ((night - '2000-01-03'::date))::bigint);

CREATE FUNCTION public.start_session(who uuid, verified text, session uuid, hash bytea, at timestamp with time zone, until timestamp with time zone) RETURNS boolean
    LANGUAGE plpgsql SECURITY DEFINER
    SET search_path TO 'public', 'pg_temp'
    AS $$
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

CREATE FUNCTION public.store_in_force(store text, on_date date, known timestamp with time zone) RETURNS bigint
    LANGUAGE sql STABLE SECURITY DEFINER
    SET search_path TO 'public', 'pg_temp'
    AS $$
  SELECT id FROM reference_versions
  WHERE kind = 'stores' AND code = store AND valid_from <= on_date AND recorded_at <= known
  ORDER BY valid_from DESC, recorded_at DESC, id DESC
  LIMIT 1
$$;

CREATE FUNCTION public.store_stood(store text, on_date date, known timestamp with time zone) RETURNS boolean
    LANGUAGE sql STABLE SECURITY DEFINER
    SET search_path TO 'public', 'pg_temp'
    AS $$
  SELECT coalesce((SELECT NOT v.retired FROM reference_versions v
    WHERE v.id = store_in_force(store, on_date, known)), false)
$$;

CREATE FUNCTION public.store_versions(until date, known timestamp with time zone) RETURNS TABLE(id bigint, code text, valid_from date)
    LANGUAGE sql STABLE SECURITY DEFINER
    SET search_path TO 'public', 'pg_temp'
    AS $$
  SELECT DISTINCT ON (v.code, v.valid_from) v.id, v.code, v.valid_from FROM reference_versions v
  WHERE v.kind = 'stores' AND v.valid_from <= until AND v.recorded_at <= known
  ORDER BY v.code, v.valid_from, v.recorded_at DESC, v.id DESC
$$;

CREATE FUNCTION public.told_of(asked uuid[]) RETURNS TABLE(id uuid, name text, role text, places text[])
    LANGUAGE sql STABLE SECURITY DEFINER
    SET search_path TO 'public', 'pg_temp'
    AS $$
  SELECT p.id, p.name, p.role, p.places FROM people p
  WHERE p.id = ANY (asked) AND CASE
    WHEN acting_role() IN ('crew', 'manager', 'till') THEN p.role IN ('crew', 'manager', 'till')
    WHEN acting_role() IN ('coach', 'owner') THEN p.role IN ('manager', 'coach', 'owner')
    WHEN acting_role() = 'office' THEN p.role IN ('coach', 'owner', 'office')
    ELSE false
  END
$$;

CREATE FUNCTION public.transfers_naming(first date, last date, known timestamp with time zone) RETURNS TABLE(id uuid, store_id text, business_date date, body jsonb, recorded_at timestamp with time zone)
    LANGUAGE sql STABLE SECURITY DEFINER
    SET search_path TO 'public', 'pg_temp'
    AS $$
  SELECT e.id, e.store_id, e.business_date, e.body, e.recorded_at FROM entries e,
    LATERAL (SELECT coalesce(e.body ->> 'from', e.body ->> 'to') AS store) named
  WHERE e.kind IN ('transfer_in', 'transfer_out') AND e.business_date BETWEEN first AND last
    AND NOT EXISTS (SELECT FROM entry_withdrawals w WHERE w.entry_id = e.id)
    AND CASE acting_role()
      WHEN 'office' THEN true
      WHEN 'manager' THEN named.store = ANY (acting_stores())
      WHEN 'crew' THEN named.store = ANY (acting_stores())
      WHEN 'coach' THEN EXISTS (SELECT FROM reference_versions v
        WHERE v.id = store_in_force(named.store, e.business_date, known)
          AND v.body ->> 'district' = ANY (acting_districts()))
      WHEN 'owner' THEN EXISTS (SELECT FROM reference_versions v
        WHERE v.id = store_in_force(named.store, e.business_date, known)
          AND v.body ->> 'owner' = ANY (acting_owners()))
      ELSE false
    END
$$;

CREATE FUNCTION public.versions_of_store(store text, until date, known timestamp with time zone) RETURNS TABLE(id bigint, code text, valid_from date)
    LANGUAGE sql STABLE SECURITY DEFINER
    SET search_path TO 'public', 'pg_temp'
    AS $$
  SELECT DISTINCT ON (v.valid_from) v.id, v.code, v.valid_from FROM reference_versions v
  WHERE v.kind = 'stores' AND v.code = store AND v.valid_from <= until AND v.recorded_at <= known
  ORDER BY v.valid_from, v.recorded_at DESC, v.id DESC
$$;

CREATE FUNCTION public.versions_of_stores(district text, owner text, until date, known timestamp with time zone) RETURNS TABLE(id bigint, code text, valid_from date)
    LANGUAGE sql STABLE SECURITY DEFINER
    SET search_path TO 'public', 'pg_temp'
    AS $$
  SELECT DISTINCT ON (v.code, v.valid_from) v.id, v.code, v.valid_from FROM reference_versions v
  WHERE v.kind = 'stores' AND v.valid_from <= until AND v.recorded_at <= known
    AND v.code = ANY (ARRAY(
      SELECT s.code FROM reference_versions s WHERE s.kind = 'stores' AND s.district_id = district
      UNION
      SELECT s.code FROM reference_versions s WHERE s.kind = 'stores' AND s.owner_id = owner))
  ORDER BY v.code, v.valid_from, v.recorded_at DESC, v.id DESC
$$;

CREATE FUNCTION public.week_of(night date) RETURNS date
    LANGUAGE sql IMMUTABLE PARALLEL SAFE
    RETURN (night - ((night - '2000-01-03'::date) % 7));

CREATE TABLE public.__diesel_schema_migrations (
    version character varying(50) NOT NULL,
    run_on timestamp without time zone DEFAULT CURRENT_TIMESTAMP NOT NULL
);

CREATE TABLE public.audit (
    id bigint NOT NULL,
    at timestamp with time zone NOT NULL,
    person_id uuid,
    action text NOT NULL,
    target text NOT NULL,
    request_id text NOT NULL,
    store_id text,
    detail jsonb
);

ALTER TABLE ONLY public.audit FORCE ROW LEVEL SECURITY;

ALTER TABLE public.audit ALTER COLUMN id ADD GENERATED ALWAYS AS IDENTITY (
    SEQUENCE NAME public.audit_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);

CREATE TABLE public.case_events (
    id bigint NOT NULL,
    case_id uuid NOT NULL,
    kind text NOT NULL,
    body jsonb NOT NULL,
    at timestamp with time zone NOT NULL,
    by_person uuid
);

ALTER TABLE ONLY public.case_events FORCE ROW LEVEL SECURITY;

ALTER TABLE public.case_events ALTER COLUMN id ADD GENERATED ALWAYS AS IDENTITY (
    SEQUENCE NAME public.case_events_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);

CREATE TABLE public.cases (
    id uuid DEFAULT gen_random_uuid() NOT NULL,
    store_id text NOT NULL,
    district_id text NOT NULL,
    owner_id text NOT NULL,
    measure text NOT NULL,
    kind text NOT NULL,
    as_of date NOT NULL,
    since date NOT NULL,
    size double precision NOT NULL,
    money_per_week double precision,
    seen jsonb NOT NULL,
    raised_at timestamp with time zone NOT NULL,
    raised_in text NOT NULL
);

ALTER TABLE ONLY public.cases FORCE ROW LEVEL SECURITY;

CREATE TABLE public.nights (
    business_date date NOT NULL,
    store_id text NOT NULL,
    rules smallint NOT NULL,
    district_id text NOT NULL,
    region_id text NOT NULL,
    owner_id text NOT NULL,
    known_at timestamp with time zone NOT NULL,
    generation bigint NOT NULL,
    revision integer,
    reaches date NOT NULL,
    sampled boolean NOT NULL,
    counted text NOT NULL,
    others text NOT NULL,
    packed bytea NOT NULL
)
PARTITION BY RANGE (business_date);
ALTER TABLE ONLY public.nights ALTER COLUMN counted SET STORAGE MAIN;
ALTER TABLE ONLY public.nights ALTER COLUMN others SET STORAGE MAIN;
ALTER TABLE ONLY public.nights ALTER COLUMN packed SET STORAGE MAIN;

ALTER TABLE ONLY public.nights FORCE ROW LEVEL SECURITY;

CREATE VIEW public.daypart_tallies WITH (security_invoker='true') AS
 SELECT n.business_date,
    n.store_id,
    n.rules,
    n.known_at,
    n.district_id,
    n.region_id,
    n.owner_id,
    p.codes[1] AS daypart_id,
    p.codes[2] AS channel_id,
    p.numbers[1] AS units,
    p.numbers[2] AS sales,
    p.numbers[3] AS stock_out_minutes,
    p.numbers[4] AS orders,
    p.numbers[5] AS with_target,
    p.numbers[6] AS late,
    p.numbers[7] AS never_closed,
    p.numbers[8] AS lump_closed,
    ( SELECT COALESCE(jsonb_agg(jsonb_build_array(t.numbers[1], t.numbers[2])), '[]'::jsonb) AS "coalesce"
           FROM public.night_parts(n.counted, n.others, n.packed) t(part, codes, numbers)
          WHERE ((t.part = 'times'::text) AND (t.codes = p.codes))) AS times
   FROM public.nights n,
    LATERAL public.night_parts(n.counted, n.others, n.packed) p(part, codes, numbers)
  WHERE (p.part = 'daypart'::text);

CREATE TABLE public.diary_entries (
    id uuid NOT NULL,
    store_id text NOT NULL,
    district_id text NOT NULL,
    owner_id text NOT NULL,
    kind text NOT NULL,
    from_date date NOT NULL,
    to_date date NOT NULL,
    sets_aside boolean NOT NULL,
    said text NOT NULL,
    said_by uuid NOT NULL,
    said_at timestamp with time zone NOT NULL,
    CONSTRAINT diary_entries_check CHECK ((to_date >= from_date)),
    CONSTRAINT diary_entries_said_check CHECK ((said <> ''::text))
);

ALTER TABLE ONLY public.diary_entries FORCE ROW LEVEL SECURITY;

CREATE TABLE public.diary_withdrawals (
    entry_id uuid NOT NULL,
    reason text NOT NULL,
    withdrawn_by uuid NOT NULL,
    withdrawn_at timestamp with time zone NOT NULL,
    CONSTRAINT diary_withdrawals_reason_check CHECK ((reason <> ''::text))
);

ALTER TABLE ONLY public.diary_withdrawals FORCE ROW LEVEL SECURITY;

CREATE TABLE public.entries (
    business_date date NOT NULL,
    store_id text NOT NULL,
    id uuid NOT NULL,
    kind text NOT NULL,
    body jsonb NOT NULL,
    district_id text NOT NULL,
    region_id text NOT NULL,
    owner_id text NOT NULL,
    recorded_by uuid NOT NULL,
    recorded_at timestamp with time zone NOT NULL,
    write_id uuid NOT NULL
)
PARTITION BY RANGE (business_date);
ALTER TABLE ONLY public.entries ALTER COLUMN body SET COMPRESSION lz4;

ALTER TABLE ONLY public.entries FORCE ROW LEVEL SECURITY;

CREATE TABLE public.entry_ids (
    id uuid NOT NULL,
    store_id text NOT NULL,
    business_date date NOT NULL
);

ALTER TABLE ONLY public.entry_ids FORCE ROW LEVEL SECURITY;

CREATE TABLE public.entry_withdrawals (
    entry_id uuid NOT NULL,
    business_date date NOT NULL,
    store_id text NOT NULL,
    district_id text NOT NULL,
    region_id text NOT NULL,
    owner_id text NOT NULL,
    reason text NOT NULL,
    withdrawn_by uuid NOT NULL,
    withdrawn_at timestamp with time zone NOT NULL,
    CONSTRAINT entry_withdrawals_reason_check CHECK ((reason <> ''::text))
);

ALTER TABLE ONLY public.entry_withdrawals FORCE ROW LEVEL SECURITY;

CREATE TABLE public.finding_answers (
    id bigint NOT NULL,
    store_id text NOT NULL,
    district_id text NOT NULL,
    owner_id text NOT NULL,
    measure text NOT NULL,
    kind text NOT NULL,
    since date NOT NULL,
    said text NOT NULL,
    said_by uuid NOT NULL,
    said_at timestamp with time zone NOT NULL,
    CONSTRAINT finding_answers_said_check CHECK ((said <> ''::text))
);

ALTER TABLE ONLY public.finding_answers FORCE ROW LEVEL SECURITY;

ALTER TABLE public.finding_answers ALTER COLUMN id ADD GENERATED ALWAYS AS IDENTITY (
    SEQUENCE NAME public.finding_answers_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);

CREATE TABLE public.findings (
    id uuid DEFAULT gen_random_uuid() NOT NULL,
    review_id bigint NOT NULL,
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
    private boolean NOT NULL
);

ALTER TABLE ONLY public.findings FORCE ROW LEVEL SECURITY;

CREATE TABLE public.imports (
    id uuid NOT NULL,
    name text NOT NULL,
    content_hash bytea NOT NULL,
    kind text NOT NULL,
    rows bigint NOT NULL,
    stores bigint NOT NULL,
    nights bigint NOT NULL,
    first_date date NOT NULL,
    last_date date NOT NULL,
    reason text,
    imported_by uuid NOT NULL,
    imported_at timestamp with time zone NOT NULL,
    CONSTRAINT imports_kind_check CHECK ((kind = ANY (ARRAY['nights'::text, 'entries'::text, 'sales'::text, 'tickets'::text])))
);

ALTER TABLE ONLY public.imports FORCE ROW LEVEL SECURITY;

CREATE VIEW public.item_days WITH (security_invoker='true') AS
 SELECT n.business_date,
    n.store_id,
    n.rules,
    n.known_at,
    n.district_id,
    n.region_id,
    n.owner_id,
    p.codes[1] AS item_id,
    p.numbers[2] AS expected,
    p.numbers[3] AS expected_cost,
    p.numbers[4] AS wasted,
    p.numbers[5] AS wasted_cost,
    p.numbers[6] AS received,
    p.numbers[7] AS batch_in,
    p.numbers[8] AS batch_out,
    p.numbers[9] AS batch_expected_out,
    p.numbers[10] AS yield_loss,
    p.numbers[11] AS yield_loss_cost,
    p.numbers[12] AS made_into,
    p.numbers[13] AS made_into_cost,
    p.numbers[14] AS made,
    p.numbers[15] AS transferred_in,
    p.numbers[16] AS transferred_out,
    p.numbers[17] AS wasted_safety,
    p.numbers[18] AS wasted_safety_cost,
    p.numbers[19] AS price_effect,
    p.numbers[20] AS stock_out_minutes,
    (p.numbers[21] <> 0) AS over_cap,
        CASE
            WHEN ((p.numbers[1] & (4)::bigint) <> 0) THEN p.numbers[22]
            ELSE NULL::bigint
        END AS closing,
        CASE
            WHEN ((p.numbers[1] & (4)::bigint) <> 0) THEN p.numbers[23]
            ELSE NULL::bigint
        END AS closing_sd,
    p.numbers[24] AS samples,
    p.numbers[25] AS sample_sum,
    p.numbers[26] AS sample_squares,
    ( SELECT COALESCE(jsonb_agg(jsonb_build_object('reason', w.codes[2], 'stage', NULLIF(w.codes[3], ''::text), 'daypart', NULLIF(w.codes[4], ''::text), 'safety', (w.numbers[1] <> 0), 'amount', w.numbers[2], 'cost', w.numbers[3])), '[]'::jsonb) AS "coalesce"
           FROM public.night_parts(n.counted, n.others, n.packed) w(part, codes, numbers)
          WHERE ((w.part = 'waste'::text) AND (w.codes[1] = p.codes[1]))) AS waste
   FROM public.nights n,
    LATERAL public.night_parts(n.counted, n.others, n.packed) p(part, codes, numbers)
  WHERE ((p.part = 'item'::text) AND ((p.numbers[1] & (1)::bigint) <> 0));

CREATE VIEW public.item_spans WITH (security_invoker='true') AS
 SELECT n.business_date,
    n.store_id,
    n.rules,
    n.known_at,
    n.district_id,
    n.region_id,
    n.owner_id,
    p.codes[1] AS item_id,
    (n.business_date - (p.numbers[5])::integer) AS opened_on,
    p.numbers[1] AS opening,
    p.numbers[2] AS opening_sd,
    p.numbers[6] AS nights,
    p.numbers[9] AS made_into,
    p.numbers[10] AS made_into_cost,
    p.numbers[13] AS received,
    p.numbers[14] AS transferred_in,
    p.numbers[15] AS transferred_out,
    p.numbers[16] AS made,
    p.numbers[17] AS wasted,
    p.numbers[18] AS wasted_cost,
    p.numbers[19] AS wasted_safety,
    p.numbers[20] AS wasted_safety_cost,
    p.numbers[21] AS yield_loss,
    p.numbers[22] AS yield_loss_cost,
    p.numbers[23] AS closing,
    p.numbers[24] AS closing_sd,
    p.numbers[25] AS used,
    p.numbers[26] AS samples,
    p.numbers[27] AS sample_sum,
    p.numbers[28] AS sample_squares,
        CASE
            WHEN ((p.numbers[4] & (1)::bigint) <> 0) THEN p.numbers[11]
            ELSE NULL::bigint
        END AS used_cost,
        CASE
            WHEN ((p.numbers[4] & (2)::bigint) <> 0) THEN p.numbers[7]
            ELSE NULL::bigint
        END AS expected,
        CASE
            WHEN ((p.numbers[4] & (4)::bigint) <> 0) THEN p.numbers[8]
            ELSE NULL::bigint
        END AS expected_cost,
        CASE
            WHEN ((p.numbers[4] & (8)::bigint) <> 0) THEN p.numbers[3]
            ELSE NULL::bigint
        END AS variance_cost,
        CASE
            WHEN ((p.numbers[4] & (16)::bigint) <> 0) THEN p.numbers[12]
            ELSE NULL::bigint
        END AS sales,
    to_jsonb(array_remove(ARRAY[
        CASE
            WHEN ((p.numbers[29] & (1)::bigint) <> 0) THEN 'negative_use'::text
            ELSE NULL::text
        END,
        CASE
            WHEN ((p.numbers[29] & (2)::bigint) <> 0) THEN 'waste_above_handled'::text
            ELSE NULL::text
        END,
        CASE
            WHEN ((p.numbers[29] & (4)::bigint) <> 0) THEN 'impossible_yield'::text
            ELSE NULL::text
        END,
        CASE
            WHEN ((p.numbers[29] & (8)::bigint) <> 0) THEN 'short_days'::text
            ELSE NULL::text
        END], NULL::text)) AS doubts,
    (p.numbers[30] <> 0) AS owner_changed,
        CASE
            WHEN ((p.numbers[4] & (32)::bigint) <> 0) THEN ('1970-01-01 00:00:00+00'::timestamp with time zone + ((p.numbers[31])::double precision * '00:00:00.000001'::interval))
            ELSE NULL::timestamp with time zone
        END AS restated_at
   FROM public.nights n,
    LATERAL public.night_parts(n.counted, n.others, n.packed) p(part, codes, numbers)
  WHERE (p.part = 'span'::text);

CREATE TABLE public.night_answers (
    business_date date NOT NULL,
    store_id text NOT NULL,
    revision integer NOT NULL,
    check_id text NOT NULL,
    answer jsonb NOT NULL,
    district_id text NOT NULL,
    region_id text NOT NULL,
    owner_id text NOT NULL,
    answered_by uuid NOT NULL,
    recorded_at timestamp with time zone NOT NULL,
    write_id uuid NOT NULL
)
PARTITION BY RANGE (business_date);

ALTER TABLE ONLY public.night_answers FORCE ROW LEVEL SECURITY;

CREATE TABLE public.night_pins (
    business_date date NOT NULL,
    store_id text NOT NULL,
    rules smallint NOT NULL,
    known_at timestamp with time zone NOT NULL,
    recorded_at timestamp with time zone NOT NULL,
    reason text,
    district_id text NOT NULL,
    region_id text NOT NULL,
    owner_id text NOT NULL
)
PARTITION BY RANGE (business_date);

ALTER TABLE ONLY public.night_pins FORCE ROW LEVEL SECURITY;

CREATE TABLE public.night_revisions (
    business_date date NOT NULL,
    store_id text NOT NULL,
    revision integer NOT NULL,
    body jsonb NOT NULL,
    reason text,
    district_id text NOT NULL,
    region_id text NOT NULL,
    owner_id text NOT NULL,
    submitted_by uuid NOT NULL,
    recorded_at timestamp with time zone NOT NULL,
    write_id uuid NOT NULL,
    state text NOT NULL,
    checks jsonb DEFAULT '[]'::jsonb NOT NULL,
    proposal jsonb,
    shelves bytea,
    CONSTRAINT night_revisions_revision_check CHECK ((revision >= 1)),
    CONSTRAINT night_revisions_state_check CHECK ((state = ANY (ARRAY['accepted'::text, 'held'::text, 'proposed'::text])))
)
PARTITION BY RANGE (business_date);
ALTER TABLE ONLY public.night_revisions ALTER COLUMN body SET COMPRESSION lz4;
ALTER TABLE ONLY public.night_revisions ALTER COLUMN checks SET COMPRESSION lz4;
ALTER TABLE ONLY public.night_revisions ALTER COLUMN shelves SET STORAGE MAIN;

ALTER TABLE ONLY public.night_revisions FORCE ROW LEVEL SECURITY;

CREATE TABLE public.night_settlements (
    business_date date NOT NULL,
    store_id text NOT NULL,
    revision integer NOT NULL,
    outcome text NOT NULL,
    left_out text[] NOT NULL,
    reason text,
    district_id text NOT NULL,
    region_id text NOT NULL,
    owner_id text NOT NULL,
    settled_by uuid,
    recorded_at timestamp with time zone NOT NULL,
    CONSTRAINT night_settlements_outcome_check CHECK ((outcome = ANY (ARRAY['accepted'::text, 'declined'::text, 'overtaken'::text])))
)
PARTITION BY RANGE (business_date);

ALTER TABLE ONLY public.night_settlements FORCE ROW LEVEL SECURITY;

CREATE TABLE public.till_batches (
    business_date date NOT NULL,
    store_id text NOT NULL,
    batch_id text NOT NULL,
    body jsonb NOT NULL,
    district_id text NOT NULL,
    region_id text NOT NULL,
    owner_id text NOT NULL,
    sent_by uuid NOT NULL,
    recorded_at timestamp with time zone NOT NULL,
    write_id uuid NOT NULL
)
PARTITION BY RANGE (business_date);
ALTER TABLE ONLY public.till_batches ALTER COLUMN body SET COMPRESSION lz4;

ALTER TABLE ONLY public.till_batches FORCE ROW LEVEL SECURITY;

CREATE VIEW public.night_events WITH (security_invoker='true') AS
 SELECT e.store_id,
    e.business_date,
    e.district_id,
    e.region_id,
    e.owner_id,
    'entry'::text AS kind,
    e.kind AS what,
    e.recorded_at AS at,
    e.recorded_by AS person,
    NULL::text AS reason,
    (e.id)::text AS id
   FROM public.entries e
UNION ALL
 SELECT w.store_id,
    w.business_date,
    w.district_id,
    w.region_id,
    w.owner_id,
    'withdrawal'::text AS kind,
    e.kind AS what,
    w.withdrawn_at AS at,
    w.withdrawn_by AS person,
    w.reason,
    (w.entry_id)::text AS id
   FROM (public.entry_withdrawals w
     JOIN public.entries e ON (((e.business_date = w.business_date) AND (e.store_id = w.store_id) AND (e.id = w.entry_id))))
UNION ALL
 SELECT till_batches.store_id,
    till_batches.business_date,
    till_batches.district_id,
    till_batches.region_id,
    till_batches.owner_id,
    'till_batch'::text AS kind,
    till_batches.batch_id AS what,
    till_batches.recorded_at AS at,
    till_batches.sent_by AS person,
    NULL::text AS reason,
    till_batches.batch_id AS id
   FROM public.till_batches
UNION ALL
 SELECT night_revisions.store_id,
    night_revisions.business_date,
    night_revisions.district_id,
    night_revisions.region_id,
    night_revisions.owner_id,
    'revision'::text AS kind,
    (night_revisions.revision)::text AS what,
    night_revisions.recorded_at AS at,
    night_revisions.submitted_by AS person,
    night_revisions.reason,
    (night_revisions.revision)::text AS id
   FROM public.night_revisions
  WHERE (night_revisions.state = 'accepted'::text)
UNION ALL
 SELECT s.store_id,
    s.business_date,
    s.district_id,
    s.region_id,
    s.owner_id,
    'revision'::text AS kind,
    (s.revision)::text AS what,
    s.recorded_at AS at,
    COALESCE(s.settled_by, r.submitted_by) AS person,
    COALESCE(s.reason, r.reason) AS reason,
    (s.revision)::text AS id
   FROM (public.night_settlements s
     JOIN public.night_revisions r ON (((r.business_date = s.business_date) AND (r.store_id = s.store_id) AND (r.revision = s.revision))))
  WHERE (s.outcome = 'accepted'::text)
UNION ALL
 SELECT night_pins.store_id,
    night_pins.business_date,
    night_pins.district_id,
    night_pins.region_id,
    night_pins.owner_id,
    'restatement'::text AS kind,
    ''::text AS what,
    night_pins.recorded_at AS at,
    NULL::uuid AS person,
    night_pins.reason,
    ''::text AS id
   FROM public.night_pins
  WHERE (night_pins.reason IS NOT NULL);

CREATE SEQUENCE public.night_generations
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1;

CREATE VIEW public.night_tallies WITH (security_invoker='true') AS
 SELECT n.business_date,
    n.store_id,
    n.rules,
    n.known_at,
    n.district_id,
    n.region_id,
    n.owner_id,
    n.revision,
    n.generation,
    p.numbers[6] AS items_due,
    p.numbers[7] AS items_counted,
    p.numbers[8] AS wasted_cost,
    p.numbers[9] AS wasted_safety_cost,
    p.numbers[11] AS items_left_out,
    p.numbers[12] AS unmapped_units,
    (p.numbers[5] <> 0) AS counted,
    (p.numbers[10] <> 0) AS partial,
    (p.numbers[13] <> 0) AS short,
    (ARRAY['none'::text, 'feed'::text, 'typed'::text])[(p.numbers[1] + 1)] AS sales_source,
        CASE
            WHEN ((p.numbers[2] & (1)::bigint) <> 0) THEN p.numbers[3]
            ELSE NULL::bigint
        END AS sales,
        CASE
            WHEN ((p.numbers[2] & (2)::bigint) <> 0) THEN p.numbers[4]
            ELSE NULL::bigint
        END AS units
   FROM public.nights n,
    LATERAL public.night_parts(n.counted, n.others, n.packed) p(part, codes, numbers)
  WHERE (p.part = 'night'::text);

CREATE TABLE public.par_publications (
    id bigint NOT NULL,
    set_code text NOT NULL,
    revision integer NOT NULL,
    valid_from date NOT NULL,
    recorded_at timestamp with time zone NOT NULL,
    recorded_by uuid NOT NULL,
    reason text NOT NULL,
    rolls_back bigint
);

ALTER TABLE ONLY public.par_publications FORCE ROW LEVEL SECURITY;

ALTER TABLE public.par_publications ALTER COLUMN id ADD GENERATED ALWAYS AS IDENTITY (
    SEQUENCE NAME public.par_publications_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);

CREATE TABLE public.par_revisions (
    set_code text NOT NULL,
    revision integer NOT NULL,
    body jsonb NOT NULL,
    recorded_at timestamp with time zone NOT NULL,
    recorded_by uuid NOT NULL,
    CONSTRAINT par_revisions_revision_check CHECK ((revision > 0))
);

ALTER TABLE ONLY public.par_revisions FORCE ROW LEVEL SECURITY;

CREATE TABLE public.people (
    id uuid NOT NULL,
    kind text NOT NULL,
    name text NOT NULL,
    email text,
    role text NOT NULL,
    places text[] DEFAULT '{}'::text[] NOT NULL,
    password_hash text,
    secret_hash bytea,
    created_at timestamp with time zone NOT NULL,
    created_by uuid,
    changed_at timestamp with time zone NOT NULL,
    disabled_at timestamp with time zone,
    CONSTRAINT people_email_check CHECK ((email = lower(email))),
    CONSTRAINT people_kind_check CHECK ((kind = ANY (ARRAY['person'::text, 'service'::text]))),
    CONSTRAINT people_name_check CHECK ((name <> ''::text)),
    CONSTRAINT people_places CHECK (((role = 'office'::text) = (places = '{}'::text[]))),
    CONSTRAINT people_role_check CHECK ((role = ANY (ARRAY['crew'::text, 'manager'::text, 'coach'::text, 'owner'::text, 'office'::text, 'till'::text]))),
    CONSTRAINT people_sign_in_by_one_way CHECK ((((kind = 'person'::text) AND (email IS NOT NULL) AND (secret_hash IS NULL)) OR ((kind = 'service'::text) AND (email IS NULL) AND (password_hash IS NULL)))),
    CONSTRAINT people_till_is_a_service CHECK (((role = 'till'::text) = (kind = 'service'::text)))
);

ALTER TABLE ONLY public.people FORCE ROW LEVEL SECURITY;

CREATE TABLE public.reference_versions (
    id bigint NOT NULL,
    kind text NOT NULL,
    code text NOT NULL,
    valid_from date NOT NULL,
    recorded_at timestamp with time zone NOT NULL,
    recorded_by uuid,
    reason text,
    retired boolean DEFAULT false NOT NULL,
    body jsonb NOT NULL,
    store_id text,
    district_id text,
    owner_id text
);

ALTER TABLE ONLY public.reference_versions FORCE ROW LEVEL SECURITY;

ALTER TABLE public.reference_versions ALTER COLUMN id ADD GENERATED ALWAYS AS IDENTITY (
    SEQUENCE NAME public.reference_versions_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);

CREATE TABLE public.refresh_families_ended (
    family uuid NOT NULL,
    ended_at timestamp with time zone NOT NULL,
    reason text NOT NULL,
    CONSTRAINT refresh_families_ended_reason_check CHECK ((reason = ANY (ARRAY['signed_out'::text, 'reused'::text, 'disabled'::text, 'reset'::text])))
);

ALTER TABLE ONLY public.refresh_families_ended FORCE ROW LEVEL SECURITY;

CREATE TABLE public.refresh_tokens (
    hash bytea NOT NULL,
    family uuid NOT NULL,
    person_id uuid NOT NULL,
    issued_at timestamp with time zone NOT NULL,
    expires_at timestamp with time zone NOT NULL,
    used_at timestamp with time zone
);

ALTER TABLE ONLY public.refresh_tokens FORCE ROW LEVEL SECURITY;

CREATE TABLE public.reviews (
    id bigint NOT NULL,
    zone text NOT NULL,
    as_of date NOT NULL,
    made_at timestamp with time zone NOT NULL,
    seen text NOT NULL,
    stores integer NOT NULL
);

ALTER TABLE ONLY public.reviews FORCE ROW LEVEL SECURITY;

ALTER TABLE public.reviews ALTER COLUMN id ADD GENERATED ALWAYS AS IDENTITY (
    SEQUENCE NAME public.reviews_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);

CREATE TABLE public.weeks (
    week date NOT NULL,
    store_id text NOT NULL,
    district_id text NOT NULL,
    region_id text NOT NULL,
    owner_id text NOT NULL,
    rules smallint NOT NULL,
    form smallint NOT NULL,
    nights bigint NOT NULL,
    stands bigint NOT NULL,
    codes text NOT NULL,
    packed bytea NOT NULL
);
ALTER TABLE ONLY public.weeks ALTER COLUMN codes SET STORAGE MAIN;
ALTER TABLE ONLY public.weeks ALTER COLUMN packed SET STORAGE MAIN;

ALTER TABLE ONLY public.weeks FORCE ROW LEVEL SECURITY;

CREATE TABLE public.writes (
    id uuid NOT NULL,
    person_id uuid NOT NULL,
    operation text NOT NULL,
    content_hash bytea NOT NULL,
    status smallint NOT NULL,
    etag text,
    response json NOT NULL,
    recorded_at timestamp with time zone NOT NULL
);
ALTER TABLE ONLY public.writes ALTER COLUMN response SET COMPRESSION lz4;

ALTER TABLE ONLY public.writes FORCE ROW LEVEL SECURITY;

CREATE TABLE unpacked.daypart_tallies (
    business_date date NOT NULL,
    store_id text NOT NULL,
    daypart_id text NOT NULL,
    channel_id text NOT NULL,
    rules smallint NOT NULL,
    district_id text NOT NULL,
    region_id text NOT NULL,
    owner_id text NOT NULL,
    units bigint NOT NULL,
    sales bigint NOT NULL,
    orders bigint NOT NULL,
    times jsonb NOT NULL,
    with_target bigint NOT NULL,
    late bigint NOT NULL,
    never_closed bigint NOT NULL,
    lump_closed bigint NOT NULL,
    stock_out_minutes bigint NOT NULL
)
PARTITION BY RANGE (business_date);
ALTER TABLE ONLY unpacked.daypart_tallies ALTER COLUMN times SET COMPRESSION lz4;

CREATE TABLE unpacked.item_days (
    business_date date NOT NULL,
    store_id text NOT NULL,
    item_id text NOT NULL,
    rules smallint NOT NULL,
    known_at timestamp with time zone NOT NULL,
    district_id text NOT NULL,
    region_id text NOT NULL,
    owner_id text NOT NULL,
    received bigint NOT NULL,
    price_effect bigint NOT NULL,
    transferred_in bigint NOT NULL,
    transferred_out bigint NOT NULL,
    made bigint NOT NULL,
    made_into bigint NOT NULL,
    made_into_cost bigint NOT NULL,
    expected bigint NOT NULL,
    expected_cost bigint NOT NULL,
    wasted bigint NOT NULL,
    wasted_cost bigint NOT NULL,
    wasted_safety bigint NOT NULL,
    wasted_safety_cost bigint NOT NULL,
    waste jsonb NOT NULL,
    batch_in bigint NOT NULL,
    batch_out bigint NOT NULL,
    batch_expected_out bigint NOT NULL,
    yield_loss bigint NOT NULL,
    yield_loss_cost bigint NOT NULL,
    samples bigint NOT NULL,
    sample_sum bigint NOT NULL,
    sample_squares bigint NOT NULL,
    stock_out_minutes bigint NOT NULL,
    closing bigint,
    closing_sd bigint,
    over_cap boolean NOT NULL
)
PARTITION BY RANGE (business_date);
ALTER TABLE ONLY unpacked.item_days ALTER COLUMN waste SET COMPRESSION lz4;

CREATE TABLE unpacked.item_spans (
    business_date date NOT NULL,
    store_id text NOT NULL,
    item_id text NOT NULL,
    rules smallint NOT NULL,
    district_id text NOT NULL,
    region_id text NOT NULL,
    owner_id text NOT NULL,
    opened_on date NOT NULL,
    nights bigint NOT NULL,
    opening bigint NOT NULL,
    opening_sd bigint NOT NULL,
    received bigint NOT NULL,
    transferred_in bigint NOT NULL,
    transferred_out bigint NOT NULL,
    made bigint NOT NULL,
    closing bigint NOT NULL,
    closing_sd bigint NOT NULL,
    used bigint NOT NULL,
    used_cost bigint,
    made_into bigint NOT NULL,
    made_into_cost bigint NOT NULL,
    expected bigint,
    expected_cost bigint,
    variance_cost bigint,
    wasted bigint NOT NULL,
    wasted_cost bigint NOT NULL,
    wasted_safety bigint NOT NULL,
    wasted_safety_cost bigint NOT NULL,
    yield_loss bigint NOT NULL,
    yield_loss_cost bigint NOT NULL,
    samples bigint NOT NULL,
    sample_sum bigint NOT NULL,
    sample_squares bigint NOT NULL,
    sales bigint,
    restated_at timestamp with time zone,
    doubts jsonb NOT NULL
)
PARTITION BY RANGE (business_date);

CREATE TABLE unpacked.night_tallies (
    business_date date NOT NULL,
    store_id text NOT NULL,
    rules smallint NOT NULL,
    known_at timestamp with time zone NOT NULL,
    district_id text NOT NULL,
    region_id text NOT NULL,
    owner_id text NOT NULL,
    revision bigint,
    counted boolean NOT NULL,
    partial boolean NOT NULL,
    items_due bigint NOT NULL,
    items_counted bigint NOT NULL,
    sales_source text NOT NULL,
    sales bigint,
    units bigint,
    wasted_cost bigint NOT NULL,
    wasted_safety_cost bigint NOT NULL,
    unmapped_units bigint NOT NULL,
    items_left_out bigint NOT NULL,
    short boolean NOT NULL,
    CONSTRAINT night_tallies_sales_source_check CHECK ((sales_source = ANY (ARRAY['feed'::text, 'typed'::text, 'none'::text])))
)
PARTITION BY RANGE (business_date);

CREATE TABLE unpacked.review_nights (
    business_date date NOT NULL,
    store_id text NOT NULL,
    rules smallint NOT NULL,
    mark text NOT NULL,
    counted boolean NOT NULL,
    short boolean NOT NULL,
    sales bigint,
    units bigint,
    wasted bigint NOT NULL,
    safety bigint NOT NULL,
    expected bigint,
    variance bigint,
    nights bigint,
    lines bigint,
    same_lines bigint,
    due bigint,
    batch_due bigint,
    batch_out bigint,
    tickets bigint,
    late bigint,
    p50 integer,
    p90 integer,
    lot text
);

ALTER TABLE ONLY unpacked.review_nights FORCE ROW LEVEL SECURITY;

ALTER TABLE ONLY public.__diesel_schema_migrations
    ADD CONSTRAINT __diesel_schema_migrations_pkey PRIMARY KEY (version);

ALTER TABLE ONLY public.audit
    ADD CONSTRAINT audit_pkey PRIMARY KEY (id);

ALTER TABLE ONLY public.case_events
    ADD CONSTRAINT case_events_pkey PRIMARY KEY (id);

ALTER TABLE ONLY public.cases
    ADD CONSTRAINT cases_pkey PRIMARY KEY (id);

ALTER TABLE ONLY public.diary_entries
    ADD CONSTRAINT diary_entries_pkey PRIMARY KEY (id);

ALTER TABLE ONLY public.diary_withdrawals
    ADD CONSTRAINT diary_withdrawals_pkey PRIMARY KEY (entry_id);

ALTER TABLE ONLY public.entries
    ADD CONSTRAINT entries_pkey PRIMARY KEY (business_date, store_id, id);

ALTER TABLE ONLY public.entry_ids
    ADD CONSTRAINT entry_ids_pkey PRIMARY KEY (id);

ALTER TABLE ONLY public.entry_withdrawals
    ADD CONSTRAINT entry_withdrawals_pkey PRIMARY KEY (entry_id);

ALTER TABLE ONLY public.finding_answers
    ADD CONSTRAINT finding_answers_pkey PRIMARY KEY (id);

ALTER TABLE ONLY public.findings
    ADD CONSTRAINT findings_pkey PRIMARY KEY (id);

ALTER TABLE ONLY public.imports
    ADD CONSTRAINT imports_pkey PRIMARY KEY (id);

ALTER TABLE ONLY public.night_answers
    ADD CONSTRAINT night_answers_pkey PRIMARY KEY (business_date, store_id, revision, check_id);

ALTER TABLE ONLY public.night_pins
    ADD CONSTRAINT night_pins_pkey PRIMARY KEY (store_id, business_date, rules, known_at);

ALTER TABLE ONLY public.night_revisions
    ADD CONSTRAINT night_revisions_pkey PRIMARY KEY (business_date, store_id, revision);

ALTER TABLE ONLY public.night_settlements
    ADD CONSTRAINT night_settlements_pkey PRIMARY KEY (business_date, store_id, revision);

ALTER TABLE ONLY public.nights
    ADD CONSTRAINT nights_pkey PRIMARY KEY (store_id, business_date) INCLUDE (generation, sampled, district_id, region_id, owner_id);

ALTER TABLE ONLY public.par_publications
    ADD CONSTRAINT par_publications_pkey PRIMARY KEY (id);

ALTER TABLE ONLY public.par_revisions
    ADD CONSTRAINT par_revisions_pkey PRIMARY KEY (set_code, revision);

ALTER TABLE ONLY public.people
    ADD CONSTRAINT people_email_key UNIQUE (email);

ALTER TABLE ONLY public.people
    ADD CONSTRAINT people_pkey PRIMARY KEY (id);

ALTER TABLE ONLY public.reference_versions
    ADD CONSTRAINT reference_versions_pkey PRIMARY KEY (id);

ALTER TABLE ONLY public.refresh_families_ended
    ADD CONSTRAINT refresh_families_ended_pkey PRIMARY KEY (family);

ALTER TABLE ONLY public.refresh_tokens
    ADD CONSTRAINT refresh_tokens_pkey PRIMARY KEY (hash);

ALTER TABLE ONLY public.reviews
    ADD CONSTRAINT reviews_pkey PRIMARY KEY (id);

ALTER TABLE ONLY public.till_batches
    ADD CONSTRAINT till_batches_pkey PRIMARY KEY (business_date, store_id, batch_id);

ALTER TABLE ONLY public.weeks
    ADD CONSTRAINT weeks_pkey PRIMARY KEY (week, store_id);

ALTER TABLE ONLY public.writes
    ADD CONSTRAINT writes_pkey PRIMARY KEY (id);

ALTER TABLE ONLY unpacked.daypart_tallies
    ADD CONSTRAINT daypart_tallies_pkey PRIMARY KEY (store_id, business_date, daypart_id, channel_id, rules);

ALTER TABLE ONLY unpacked.item_days
    ADD CONSTRAINT item_days_pkey PRIMARY KEY (store_id, business_date, item_id, rules);

ALTER TABLE ONLY unpacked.item_spans
    ADD CONSTRAINT item_spans_pkey PRIMARY KEY (store_id, business_date, item_id, rules);

ALTER TABLE ONLY unpacked.night_tallies
    ADD CONSTRAINT night_tallies_pkey PRIMARY KEY (store_id, business_date, rules);

ALTER TABLE ONLY unpacked.review_nights
    ADD CONSTRAINT review_nights_pkey PRIMARY KEY (business_date, store_id);

CREATE INDEX audit_at ON public.audit USING btree (at, id);

CREATE INDEX audit_store ON public.audit USING btree (store_id, at);

CREATE INDEX case_events_of ON public.case_events USING btree (case_id, id);

CREATE INDEX cases_of_district ON public.cases USING btree (district_id);

CREATE INDEX cases_of_store ON public.cases USING btree (store_id);

CREATE INDEX diary_entries_of ON public.diary_entries USING btree (store_id, from_date);

CREATE INDEX entries_business_date_idx ON ONLY public.entries USING btree (business_date) WHERE (kind = ANY (ARRAY['transfer_in'::text, 'transfer_out'::text]));

CREATE INDEX entries_lots ON ONLY public.entries USING btree (business_date) WHERE ((body ->> 'lot'::text) IS NOT NULL);

CREATE INDEX entries_recorded_at_idx ON ONLY public.entries USING brin (recorded_at);

CREATE INDEX entry_withdrawals_night ON public.entry_withdrawals USING btree (store_id, business_date);

CREATE INDEX entry_withdrawals_withdrawn_at_idx ON public.entry_withdrawals USING brin (withdrawn_at);

CREATE INDEX finding_answers_of ON public.finding_answers USING btree (store_id, since);

CREATE INDEX findings_of ON public.findings USING btree (review_id);

CREATE INDEX night_pins_recorded_at_idx ON ONLY public.night_pins USING brin (recorded_at);

CREATE INDEX night_revisions_recorded_at_idx ON ONLY public.night_revisions USING brin (recorded_at);

CREATE INDEX night_revisions_waiting ON ONLY public.night_revisions USING btree (business_date, store_id) WHERE (state <> 'accepted'::text);

CREATE INDEX night_settlements_recorded_at_idx ON ONLY public.night_settlements USING brin (recorded_at);

CREATE INDEX nights_district_id_business_date_idx ON ONLY public.nights USING btree (district_id, business_date);

CREATE INDEX par_publications_of ON public.par_publications USING btree (set_code, revision);

CREATE INDEX reference_by_district ON public.reference_versions USING btree (district_id) WHERE (kind = 'stores'::text);

CREATE INDEX reference_by_owner ON public.reference_versions USING btree (owner_id) WHERE (kind = 'stores'::text);

CREATE INDEX reference_in_force ON public.reference_versions USING btree (kind, code, valid_from DESC, recorded_at DESC, id DESC);

CREATE INDEX refresh_tokens_family ON public.refresh_tokens USING btree (family);

CREATE INDEX refresh_tokens_person ON public.refresh_tokens USING btree (person_id);

CREATE INDEX reviews_latest ON public.reviews USING btree (zone, as_of DESC, id DESC);

CREATE INDEX till_batches_recorded_at_idx ON ONLY public.till_batches USING brin (recorded_at);

CREATE INDEX daypart_tallies_district_id_business_date_idx ON ONLY unpacked.daypart_tallies USING btree (district_id, business_date);

CREATE INDEX item_days_district_id_business_date_idx ON ONLY unpacked.item_days USING btree (district_id, business_date);

CREATE INDEX item_spans_district_id_business_date_idx ON ONLY unpacked.item_spans USING btree (district_id, business_date);

CREATE INDEX night_tallies_district_id_business_date_idx ON ONLY unpacked.night_tallies USING btree (district_id, business_date);

ALTER TABLE ONLY public.case_events
    ADD CONSTRAINT case_events_case_id_fkey FOREIGN KEY (case_id) REFERENCES public.cases(id);

ALTER TABLE ONLY public.diary_withdrawals
    ADD CONSTRAINT diary_withdrawals_entry_id_fkey FOREIGN KEY (entry_id) REFERENCES public.diary_entries(id);

ALTER TABLE ONLY public.findings
    ADD CONSTRAINT findings_review_id_fkey FOREIGN KEY (review_id) REFERENCES public.reviews(id);

ALTER TABLE ONLY public.par_publications
    ADD CONSTRAINT par_publications_rolls_back_fkey FOREIGN KEY (rolls_back) REFERENCES public.par_publications(id);

ALTER TABLE ONLY public.par_publications
    ADD CONSTRAINT par_publications_set_code_revision_fkey FOREIGN KEY (set_code, revision) REFERENCES public.par_revisions(set_code, revision);

ALTER TABLE ONLY public.people
    ADD CONSTRAINT people_created_by_fkey FOREIGN KEY (created_by) REFERENCES public.people(id);

ALTER TABLE ONLY public.refresh_tokens
    ADD CONSTRAINT refresh_tokens_person_id_fkey FOREIGN KEY (person_id) REFERENCES public.people(id);

ALTER TABLE public.audit ENABLE ROW LEVEL SECURITY;

CREATE POLICY audit_add ON public.audit FOR INSERT TO parings_app WITH CHECK ((NOT (person_id IS DISTINCT FROM ( SELECT public.acting_person() AS acting_person))));

CREATE POLICY audit_owner ON public.audit FOR INSERT TO parings_owner WITH CHECK (true);

CREATE POLICY audit_read ON public.audit FOR SELECT TO parings_app USING (((( SELECT public.acting_role() AS acting_role) = 'office'::text) OR ((( SELECT public.acting_role() AS acting_role) = 'manager'::text) AND (store_id = ANY (( SELECT public.acting_stores() AS acting_stores)::text[])))));

CREATE POLICY audit_signin ON public.audit FOR INSERT TO parings_signin WITH CHECK (true);

CREATE POLICY audit_verify ON public.audit FOR SELECT TO parings_read USING (true);

ALTER TABLE public.case_events ENABLE ROW LEVEL SECURITY;

CREATE POLICY case_events_add ON public.case_events FOR INSERT TO parings_app WITH CHECK (((EXISTS ( SELECT
   FROM public.cases c
  WHERE (c.id = case_events.case_id))) AND
CASE ( SELECT public.acting_role() AS acting_role)
    WHEN 'nightly'::text THEN ((kind = ANY (ARRAY['checked'::text, 'moved'::text])) AND (by_person IS NULL))
    WHEN 'manager'::text THEN ((kind = 'answered'::text) AND (by_person = ( SELECT public.acting_person() AS acting_person)))
    WHEN 'coach'::text THEN ((kind = ANY (ARRAY['visited'::text, 'promised'::text, 'kept'::text, 'dismissed'::text])) AND (by_person = ( SELECT public.acting_person() AS acting_person)))
    WHEN 'office'::text THEN ((kind = ANY (ARRAY['visited'::text, 'promised'::text, 'kept'::text, 'dismissed'::text])) AND (by_person = ( SELECT public.acting_person() AS acting_person)))
    ELSE false
END));

CREATE POLICY case_events_read ON public.case_events FOR SELECT TO parings_app USING ((EXISTS ( SELECT
   FROM public.cases c
  WHERE (c.id = case_events.case_id))));

CREATE POLICY case_events_verify ON public.case_events FOR SELECT TO parings_read USING (true);

ALTER TABLE public.cases ENABLE ROW LEVEL SECURITY;

CREATE POLICY cases_raise ON public.cases FOR INSERT TO parings_app WITH CHECK ((( SELECT public.acting_role() AS acting_role) = 'nightly'::text));

CREATE POLICY cases_read ON public.cases FOR SELECT TO parings_app USING (((( SELECT public.acting_role() AS acting_role) = ANY (ARRAY['office'::text, 'nightly'::text])) OR ((( SELECT public.acting_role() AS acting_role) = 'coach'::text) AND (district_id = ANY (( SELECT public.acting_districts() AS acting_districts)::text[]))) OR ((( SELECT public.acting_role() AS acting_role) = 'owner'::text) AND (owner_id = ANY (( SELECT public.acting_owners() AS acting_owners)::text[]))) OR ((( SELECT public.acting_role() AS acting_role) = 'manager'::text) AND (store_id = ANY (( SELECT public.acting_stores() AS acting_stores)::text[])))));

CREATE POLICY cases_verify ON public.cases FOR SELECT TO parings_read USING (true);

ALTER TABLE public.diary_entries ENABLE ROW LEVEL SECURITY;

CREATE POLICY diary_entries_add ON public.diary_entries FOR INSERT TO parings_app WITH CHECK (((said_by = ( SELECT public.acting_person() AS acting_person)) AND
CASE ( SELECT public.acting_role() AS acting_role)
    WHEN 'office'::text THEN true
    WHEN 'coach'::text THEN (district_id = ANY (( SELECT public.acting_districts() AS acting_districts)::text[]))
    WHEN 'manager'::text THEN ((store_id = ANY (( SELECT public.acting_stores() AS acting_stores)::text[])) AND (NOT sets_aside))
    ELSE false
END));

CREATE POLICY diary_entries_read ON public.diary_entries FOR SELECT TO parings_app USING (((( SELECT public.acting_role() AS acting_role) = ANY (ARRAY['office'::text, 'review'::text, 'nightly'::text])) OR ((( SELECT public.acting_role() AS acting_role) = 'coach'::text) AND (district_id = ANY (( SELECT public.acting_districts() AS acting_districts)::text[]))) OR ((( SELECT public.acting_role() AS acting_role) = 'owner'::text) AND (owner_id = ANY (( SELECT public.acting_owners() AS acting_owners)::text[]))) OR ((( SELECT public.acting_role() AS acting_role) = 'manager'::text) AND (store_id = ANY (( SELECT public.acting_stores() AS acting_stores)::text[])))));

CREATE POLICY diary_entries_verify ON public.diary_entries FOR SELECT TO parings_read USING (true);

ALTER TABLE public.diary_withdrawals ENABLE ROW LEVEL SECURITY;

CREATE POLICY diary_withdrawals_add ON public.diary_withdrawals FOR INSERT TO parings_app WITH CHECK (((withdrawn_by = ( SELECT public.acting_person() AS acting_person)) AND (EXISTS ( SELECT
   FROM public.diary_entries e
  WHERE ((e.id = diary_withdrawals.entry_id) AND ((( SELECT public.acting_role() AS acting_role) = ANY (ARRAY['coach'::text, 'office'::text])) OR ((( SELECT public.acting_role() AS acting_role) = 'manager'::text) AND (e.said_by = ( SELECT public.acting_person() AS acting_person)))))))));

CREATE POLICY diary_withdrawals_read ON public.diary_withdrawals FOR SELECT TO parings_app USING ((EXISTS ( SELECT
   FROM public.diary_entries e
  WHERE (e.id = diary_withdrawals.entry_id))));

CREATE POLICY diary_withdrawals_verify ON public.diary_withdrawals FOR SELECT TO parings_read USING (true);

ALTER TABLE public.entries ENABLE ROW LEVEL SECURITY;

CREATE POLICY entries_add ON public.entries FOR INSERT TO parings_app WITH CHECK (((( SELECT public.acting_role() AS acting_role) = 'office'::text) OR ((( SELECT public.acting_role() AS acting_role) = ANY ('{crew,manager,office}'::text[])) AND (store_id = ANY (( SELECT public.acting_stores() AS acting_stores)::text[])))));

CREATE POLICY entries_add_approved ON public.entries FOR INSERT TO parings_app WITH CHECK (((( SELECT public.acting_role() AS acting_role) = 'rules'::text) AND (store_id = ANY (( SELECT public.acting_stores() AS acting_stores)::text[])) AND (recorded_by IN ( SELECT just_approved.proposed_by
   FROM public.just_approved(entries.store_id, entries.business_date) just_approved(proposed_by)))));

CREATE POLICY entries_lots ON public.entries FOR SELECT TO parings_signin USING (((body ->> 'lot'::text) IS NOT NULL));

CREATE POLICY entries_read ON public.entries FOR SELECT TO parings_app USING (((( SELECT public.acting_role() AS acting_role) = 'office'::text) OR ((( SELECT public.acting_role() AS acting_role) = 'rules'::text) AND (store_id = ANY (( SELECT public.acting_stores() AS acting_stores)::text[]))) OR ((( SELECT public.acting_role() AS acting_role) = ANY ('{crew,manager,coach,owner,office}'::text[])) AND ((store_id = ANY (( SELECT public.acting_stores() AS acting_stores)::text[])) OR (district_id = ANY (( SELECT public.acting_districts() AS acting_districts)::text[])) OR (owner_id = ANY (( SELECT public.acting_owners() AS acting_owners)::text[]))))));

CREATE POLICY entries_transfers ON public.entries FOR SELECT TO parings_signin USING ((kind = ANY (ARRAY['transfer_in'::text, 'transfer_out'::text])));

CREATE POLICY entries_verify ON public.entries FOR SELECT TO parings_read USING (true);

ALTER TABLE public.entry_ids ENABLE ROW LEVEL SECURITY;

CREATE POLICY entry_ids_add ON public.entry_ids FOR INSERT TO parings_app WITH CHECK (((( SELECT public.acting_role() AS acting_role) = 'office'::text) OR ((( SELECT public.acting_role() AS acting_role) = ANY (ARRAY['crew'::text, 'manager'::text])) AND (store_id = ANY (( SELECT public.acting_stores() AS acting_stores)::text[])))));

CREATE POLICY entry_ids_add_approved ON public.entry_ids FOR INSERT TO parings_app WITH CHECK (((( SELECT public.acting_role() AS acting_role) = 'rules'::text) AND (store_id = ANY (( SELECT public.acting_stores() AS acting_stores)::text[])) AND (EXISTS ( SELECT
   FROM public.just_approved(entry_ids.store_id, entry_ids.business_date) just_approved(proposed_by)))));

CREATE POLICY entry_ids_read ON public.entry_ids FOR SELECT TO parings_app USING (((( SELECT public.acting_role() AS acting_role) = ANY (ARRAY['office'::text, 'rules'::text])) OR (store_id = ANY (( SELECT public.acting_stores() AS acting_stores)::text[]))));

ALTER TABLE public.entry_withdrawals ENABLE ROW LEVEL SECURITY;

CREATE POLICY entry_withdrawals_add ON public.entry_withdrawals FOR INSERT TO parings_app WITH CHECK (((( SELECT public.acting_role() AS acting_role) = 'office'::text) OR ((( SELECT public.acting_role() AS acting_role) = ANY ('{crew,manager,office}'::text[])) AND (store_id = ANY (( SELECT public.acting_stores() AS acting_stores)::text[])))));

CREATE POLICY entry_withdrawals_add_approved ON public.entry_withdrawals FOR INSERT TO parings_app WITH CHECK (((( SELECT public.acting_role() AS acting_role) = 'rules'::text) AND (store_id = ANY (( SELECT public.acting_stores() AS acting_stores)::text[])) AND (withdrawn_by IN ( SELECT just_approved.proposed_by
   FROM public.just_approved(entry_withdrawals.store_id, entry_withdrawals.business_date) just_approved(proposed_by)))));

CREATE POLICY entry_withdrawals_read ON public.entry_withdrawals FOR SELECT TO parings_app USING (((( SELECT public.acting_role() AS acting_role) = 'office'::text) OR ((( SELECT public.acting_role() AS acting_role) = 'rules'::text) AND (store_id = ANY (( SELECT public.acting_stores() AS acting_stores)::text[]))) OR ((( SELECT public.acting_role() AS acting_role) = ANY ('{crew,manager,coach,owner,office}'::text[])) AND ((store_id = ANY (( SELECT public.acting_stores() AS acting_stores)::text[])) OR (district_id = ANY (( SELECT public.acting_districts() AS acting_districts)::text[])) OR (owner_id = ANY (( SELECT public.acting_owners() AS acting_owners)::text[]))))));

CREATE POLICY entry_withdrawals_transfers ON public.entry_withdrawals FOR SELECT TO parings_signin USING (true);

CREATE POLICY entry_withdrawals_verify ON public.entry_withdrawals FOR SELECT TO parings_read USING (true);

CREATE POLICY families_signin ON public.refresh_families_ended TO parings_signin USING (true) WITH CHECK (true);

ALTER TABLE public.finding_answers ENABLE ROW LEVEL SECURITY;

CREATE POLICY finding_answers_add ON public.finding_answers FOR INSERT TO parings_app WITH CHECK (((( SELECT public.acting_role() AS acting_role) = 'manager'::text) AND (said_by = ( SELECT public.acting_person() AS acting_person)) AND (store_id = ANY (( SELECT public.acting_stores() AS acting_stores)::text[]))));

CREATE POLICY finding_answers_read ON public.finding_answers FOR SELECT TO parings_app USING (((( SELECT public.acting_role() AS acting_role) = 'office'::text) OR ((( SELECT public.acting_role() AS acting_role) = 'coach'::text) AND (district_id = ANY (( SELECT public.acting_districts() AS acting_districts)::text[]))) OR ((( SELECT public.acting_role() AS acting_role) = 'owner'::text) AND (owner_id = ANY (( SELECT public.acting_owners() AS acting_owners)::text[]))) OR ((( SELECT public.acting_role() AS acting_role) = 'manager'::text) AND (store_id = ANY (( SELECT public.acting_stores() AS acting_stores)::text[])))));

CREATE POLICY finding_answers_verify ON public.finding_answers FOR SELECT TO parings_read USING (true);

ALTER TABLE public.findings ENABLE ROW LEVEL SECURITY;

CREATE POLICY findings_add ON public.findings FOR INSERT TO parings_app WITH CHECK ((( SELECT public.acting_role() AS acting_role) = 'nightly'::text));

CREATE POLICY findings_read ON public.findings FOR SELECT TO parings_app USING (
CASE ( SELECT public.acting_role() AS acting_role)
    WHEN 'office'::text THEN true
    WHEN 'coach'::text THEN ((NOT private) AND (kind <> 'shared'::text) AND (district_id = ANY (( SELECT public.acting_districts() AS acting_districts)::text[])))
    WHEN 'owner'::text THEN ((NOT private) AND (kind <> 'shared'::text) AND (owner_id = ANY (( SELECT public.acting_owners() AS acting_owners)::text[])))
    WHEN 'manager'::text THEN ((private OR (kind = 'habit'::text)) AND (store_id = ANY (( SELECT public.acting_stores() AS acting_stores)::text[])))
    WHEN 'nightly'::text THEN true
    ELSE false
END);

CREATE POLICY findings_verify ON public.findings FOR SELECT TO parings_read USING (true);

ALTER TABLE public.imports ENABLE ROW LEVEL SECURITY;

CREATE POLICY imports_add ON public.imports FOR INSERT TO parings_app WITH CHECK (((( SELECT public.acting_role() AS acting_role) = 'office'::text) AND (imported_by = ( SELECT public.acting_person() AS acting_person))));

CREATE POLICY imports_read ON public.imports FOR SELECT TO parings_app USING ((( SELECT public.acting_role() AS acting_role) = 'office'::text));

ALTER TABLE public.night_answers ENABLE ROW LEVEL SECURITY;

CREATE POLICY night_answers_add ON public.night_answers FOR INSERT TO parings_app WITH CHECK (((( SELECT public.acting_role() AS acting_role) = 'office'::text) OR ((( SELECT public.acting_role() AS acting_role) = ANY ('{manager,office}'::text[])) AND ((store_id = ANY (( SELECT public.acting_stores() AS acting_stores)::text[])) OR (district_id = ANY (( SELECT public.acting_districts() AS acting_districts)::text[]))))));

CREATE POLICY night_answers_read ON public.night_answers FOR SELECT TO parings_app USING (((( SELECT public.acting_role() AS acting_role) = 'office'::text) OR ((( SELECT public.acting_role() AS acting_role) = 'rules'::text) AND (store_id = ANY (( SELECT public.acting_stores() AS acting_stores)::text[]))) OR ((( SELECT public.acting_role() AS acting_role) = ANY ('{manager,coach,owner,office}'::text[])) AND ((store_id = ANY (( SELECT public.acting_stores() AS acting_stores)::text[])) OR (district_id = ANY (( SELECT public.acting_districts() AS acting_districts)::text[])) OR (owner_id = ANY (( SELECT public.acting_owners() AS acting_owners)::text[]))))));

CREATE POLICY night_answers_verify ON public.night_answers FOR SELECT TO parings_read USING (true);

ALTER TABLE public.night_pins ENABLE ROW LEVEL SECURITY;

CREATE POLICY night_pins_add ON public.night_pins FOR INSERT TO parings_app WITH CHECK (((( SELECT public.acting_role() AS acting_role) = 'rules'::text) AND (store_id = ANY (( SELECT public.acting_stores() AS acting_stores)::text[]))));

CREATE POLICY night_pins_read ON public.night_pins FOR SELECT TO parings_app USING (((( SELECT public.acting_role() AS acting_role) = 'office'::text) OR ((( SELECT public.acting_role() AS acting_role) = ANY (ARRAY['rules'::text, 'manager'::text])) AND (store_id = ANY (( SELECT public.acting_stores() AS acting_stores)::text[]))) OR ((( SELECT public.acting_role() AS acting_role) = 'coach'::text) AND (district_id = ANY (( SELECT public.acting_districts() AS acting_districts)::text[]))) OR ((( SELECT public.acting_role() AS acting_role) = 'owner'::text) AND (owner_id = ANY (( SELECT public.acting_owners() AS acting_owners)::text[])))));

CREATE POLICY night_pins_verify ON public.night_pins FOR SELECT TO parings_read USING (true);

ALTER TABLE public.night_revisions ENABLE ROW LEVEL SECURITY;

CREATE POLICY night_revisions_add ON public.night_revisions FOR INSERT TO parings_app WITH CHECK (((( SELECT public.acting_role() AS acting_role) = 'office'::text) OR ((( SELECT public.acting_role() AS acting_role) = ANY ('{manager,office}'::text[])) AND (store_id = ANY (( SELECT public.acting_stores() AS acting_stores)::text[])))));

CREATE POLICY night_revisions_read ON public.night_revisions FOR SELECT TO parings_app USING (((( SELECT public.acting_role() AS acting_role) = 'office'::text) OR ((( SELECT public.acting_role() AS acting_role) = 'rules'::text) AND (store_id = ANY (( SELECT public.acting_stores() AS acting_stores)::text[]))) OR ((( SELECT public.acting_role() AS acting_role) = ANY ('{manager,coach,owner,office}'::text[])) AND ((store_id = ANY (( SELECT public.acting_stores() AS acting_stores)::text[])) OR (district_id = ANY (( SELECT public.acting_districts() AS acting_districts)::text[])) OR (owner_id = ANY (( SELECT public.acting_owners() AS acting_owners)::text[]))))));

CREATE POLICY night_revisions_review ON public.night_revisions FOR SELECT TO parings_app USING (((( SELECT public.acting_role() AS acting_role) = 'nightly'::text) OR ((( SELECT public.acting_role() AS acting_role) = 'review'::text) AND (state <> 'accepted'::text))));

CREATE POLICY night_revisions_verify ON public.night_revisions FOR SELECT TO parings_read USING (true);

CREATE POLICY night_revisions_waiting ON public.night_revisions FOR SELECT TO parings_signin USING ((state = 'held'::text));

ALTER TABLE public.night_settlements ENABLE ROW LEVEL SECURITY;

CREATE POLICY night_settlements_add ON public.night_settlements FOR INSERT TO parings_app WITH CHECK (((( SELECT public.acting_role() AS acting_role) = 'office'::text) OR ((( SELECT public.acting_role() AS acting_role) = ANY ('{manager,coach,office}'::text[])) AND ((store_id = ANY (( SELECT public.acting_stores() AS acting_stores)::text[])) OR (district_id = ANY (( SELECT public.acting_districts() AS acting_districts)::text[]))))));

CREATE POLICY night_settlements_at_opening ON public.night_settlements FOR INSERT TO parings_app WITH CHECK (((( SELECT public.acting_role() AS acting_role) = 'rules'::text) AND (( SELECT public.acting_person() AS acting_person) IS NULL) AND (store_id = ANY (( SELECT public.acting_stores() AS acting_stores)::text[])) AND (outcome = 'accepted'::text) AND (settled_by IS NULL) AND (EXISTS ( SELECT
   FROM public.night_revisions r
  WHERE ((r.business_date = night_settlements.business_date) AND (r.store_id = night_settlements.store_id) AND (r.revision = night_settlements.revision) AND (r.state = 'held'::text))))));

CREATE POLICY night_settlements_read ON public.night_settlements FOR SELECT TO parings_app USING (((( SELECT public.acting_role() AS acting_role) = 'office'::text) OR ((( SELECT public.acting_role() AS acting_role) = 'rules'::text) AND (store_id = ANY (( SELECT public.acting_stores() AS acting_stores)::text[]))) OR ((( SELECT public.acting_role() AS acting_role) = ANY ('{manager,coach,owner,office}'::text[])) AND ((store_id = ANY (( SELECT public.acting_stores() AS acting_stores)::text[])) OR (district_id = ANY (( SELECT public.acting_districts() AS acting_districts)::text[])) OR (owner_id = ANY (( SELECT public.acting_owners() AS acting_owners)::text[]))))));

CREATE POLICY night_settlements_review ON public.night_settlements FOR SELECT TO parings_app USING ((( SELECT public.acting_role() AS acting_role) = ANY (ARRAY['review'::text, 'nightly'::text])));

CREATE POLICY night_settlements_verify ON public.night_settlements FOR SELECT TO parings_read USING (true);

CREATE POLICY night_settlements_waiting ON public.night_settlements FOR SELECT TO parings_signin USING (true);

ALTER TABLE public.nights ENABLE ROW LEVEL SECURITY;

CREATE POLICY nights_add ON public.nights FOR INSERT TO parings_app WITH CHECK (((( SELECT public.acting_role() AS acting_role) = 'rules'::text) AND (store_id = ANY (( SELECT public.acting_stores() AS acting_stores)::text[]))));

CREATE POLICY nights_change ON public.nights FOR UPDATE TO parings_app USING (((( SELECT public.acting_role() AS acting_role) = 'rules'::text) AND (store_id = ANY (( SELECT public.acting_stores() AS acting_stores)::text[]))));

CREATE POLICY nights_pack ON public.nights TO parings_owner USING (true) WITH CHECK (true);

CREATE POLICY nights_read ON public.nights FOR SELECT TO parings_app USING (((( SELECT public.acting_role() AS acting_role) = ANY (ARRAY['office'::text, 'review'::text, 'nightly'::text])) OR ((( SELECT public.acting_role() AS acting_role) = ANY (ARRAY['rules'::text, 'manager'::text])) AND (store_id = ANY (( SELECT public.acting_stores() AS acting_stores)::text[]))) OR ((( SELECT public.acting_role() AS acting_role) = 'coach'::text) AND (district_id = ANY (( SELECT public.acting_districts() AS acting_districts)::text[]))) OR ((( SELECT public.acting_role() AS acting_role) = 'owner'::text) AND (owner_id = ANY (( SELECT public.acting_owners() AS acting_owners)::text[])))));

CREATE POLICY nights_verify ON public.nights FOR SELECT TO parings_read USING (true);

ALTER TABLE public.par_publications ENABLE ROW LEVEL SECURITY;

CREATE POLICY par_publications_add ON public.par_publications FOR INSERT TO parings_app WITH CHECK (((( SELECT public.acting_role() AS acting_role) = 'office'::text) AND (recorded_by = ( SELECT public.acting_person() AS acting_person))));

CREATE POLICY par_publications_read ON public.par_publications FOR SELECT TO parings_app USING ((( SELECT public.acting_role() AS acting_role) = ANY (ARRAY['crew'::text, 'manager'::text, 'coach'::text, 'owner'::text, 'office'::text])));

CREATE POLICY par_publications_verify ON public.par_publications FOR SELECT TO parings_read USING (true);

ALTER TABLE public.par_revisions ENABLE ROW LEVEL SECURITY;

CREATE POLICY par_revisions_add ON public.par_revisions FOR INSERT TO parings_app WITH CHECK (((( SELECT public.acting_role() AS acting_role) = 'office'::text) AND (recorded_by = ( SELECT public.acting_person() AS acting_person))));

CREATE POLICY par_revisions_read ON public.par_revisions FOR SELECT TO parings_app USING (((( SELECT public.acting_role() AS acting_role) = 'office'::text) OR ((( SELECT public.acting_role() AS acting_role) = ANY (ARRAY['crew'::text, 'manager'::text, 'coach'::text, 'owner'::text])) AND (EXISTS ( SELECT
   FROM public.par_publications p
  WHERE ((p.set_code = par_revisions.set_code) AND (p.revision = par_revisions.revision)))))));

CREATE POLICY par_revisions_verify ON public.par_revisions FOR SELECT TO parings_read USING (true);

ALTER TABLE public.people ENABLE ROW LEVEL SECURITY;

CREATE POLICY people_add ON public.people FOR INSERT TO parings_app WITH CHECK ((( SELECT public.acting_role() AS acting_role) = 'office'::text));

CREATE POLICY people_change ON public.people FOR UPDATE TO parings_app USING ((( SELECT public.acting_role() AS acting_role) = 'office'::text)) WITH CHECK ((( SELECT public.acting_role() AS acting_role) = 'office'::text));

CREATE POLICY people_owner ON public.people TO parings_owner USING (true) WITH CHECK (true);

CREATE POLICY people_read ON public.people FOR SELECT TO parings_app USING (((( SELECT public.acting_role() AS acting_role) = 'office'::text) OR (id = ( SELECT public.acting_person() AS acting_person))));

CREATE POLICY people_signin ON public.people TO parings_signin USING (true) WITH CHECK (true);

CREATE POLICY people_verify ON public.people FOR SELECT TO parings_read USING (true);

CREATE POLICY reference_add ON public.reference_versions FOR INSERT TO parings_app WITH CHECK ((( SELECT public.acting_role() AS acting_role) = 'office'::text));

CREATE POLICY reference_order ON public.reference_versions FOR SELECT TO parings_signin USING ((kind = 'stores'::text));

CREATE POLICY reference_read ON public.reference_versions FOR SELECT TO parings_app USING (((( SELECT public.acting_role() AS acting_role) = ANY (ARRAY['office'::text, 'rules'::text])) OR ((store_id IS NULL) AND (( SELECT public.acting_role() AS acting_role) <> ''::text)) OR (store_id = ANY (( SELECT public.acting_stores() AS acting_stores)::text[])) OR (district_id = ANY (( SELECT public.acting_districts() AS acting_districts)::text[])) OR (owner_id = ANY (( SELECT public.acting_owners() AS acting_owners)::text[]))));

CREATE POLICY reference_review ON public.reference_versions FOR SELECT TO parings_app USING ((( SELECT public.acting_role() AS acting_role) = ANY (ARRAY['review'::text, 'nightly'::text])));

CREATE POLICY reference_start_add ON public.reference_versions FOR INSERT TO parings_owner WITH CHECK ((recorded_by IS NULL));

CREATE POLICY reference_start_read ON public.reference_versions FOR SELECT TO parings_owner USING (true);

CREATE POLICY reference_verify ON public.reference_versions FOR SELECT TO parings_read USING (true);

ALTER TABLE public.reference_versions ENABLE ROW LEVEL SECURITY;

ALTER TABLE public.refresh_families_ended ENABLE ROW LEVEL SECURITY;

ALTER TABLE public.refresh_tokens ENABLE ROW LEVEL SECURITY;

ALTER TABLE public.reviews ENABLE ROW LEVEL SECURITY;

CREATE POLICY reviews_add ON public.reviews FOR INSERT TO parings_app WITH CHECK ((( SELECT public.acting_role() AS acting_role) = 'nightly'::text));

CREATE POLICY reviews_read ON public.reviews FOR SELECT TO parings_app USING ((( SELECT public.acting_role() AS acting_role) = ANY (ARRAY['manager'::text, 'coach'::text, 'owner'::text, 'office'::text, 'nightly'::text])));

CREATE POLICY reviews_verify ON public.reviews FOR SELECT TO parings_read USING (true);

ALTER TABLE public.till_batches ENABLE ROW LEVEL SECURITY;

CREATE POLICY till_batches_add ON public.till_batches FOR INSERT TO parings_app WITH CHECK (((( SELECT public.acting_role() AS acting_role) = 'office'::text) OR ((( SELECT public.acting_role() AS acting_role) = ANY ('{till,office}'::text[])) AND (store_id = ANY (( SELECT public.acting_stores() AS acting_stores)::text[])))));

CREATE POLICY till_batches_read ON public.till_batches FOR SELECT TO parings_app USING (((( SELECT public.acting_role() AS acting_role) = 'office'::text) OR ((( SELECT public.acting_role() AS acting_role) = 'rules'::text) AND (store_id = ANY (( SELECT public.acting_stores() AS acting_stores)::text[]))) OR ((( SELECT public.acting_role() AS acting_role) = ANY ('{manager,coach,owner,office,till}'::text[])) AND ((store_id = ANY (( SELECT public.acting_stores() AS acting_stores)::text[])) OR (district_id = ANY (( SELECT public.acting_districts() AS acting_districts)::text[])) OR (owner_id = ANY (( SELECT public.acting_owners() AS acting_owners)::text[]))))));

CREATE POLICY till_batches_verify ON public.till_batches FOR SELECT TO parings_read USING (true);

CREATE POLICY tokens_signin ON public.refresh_tokens TO parings_signin USING (true) WITH CHECK (true);

ALTER TABLE public.weeks ENABLE ROW LEVEL SECURITY;

CREATE POLICY weeks_add ON public.weeks FOR INSERT TO parings_app WITH CHECK (((( SELECT public.acting_role() AS acting_role) = 'rules'::text) AND (store_id = ANY (( SELECT public.acting_stores() AS acting_stores)::text[]))));

CREATE POLICY weeks_change ON public.weeks FOR UPDATE TO parings_app USING (((( SELECT public.acting_role() AS acting_role) = 'rules'::text) AND (store_id = ANY (( SELECT public.acting_stores() AS acting_stores)::text[]))));

CREATE POLICY weeks_read ON public.weeks FOR SELECT TO parings_app USING (((( SELECT public.acting_role() AS acting_role) = ANY (ARRAY['office'::text, 'review'::text, 'nightly'::text])) OR ((( SELECT public.acting_role() AS acting_role) = ANY (ARRAY['rules'::text, 'manager'::text])) AND (store_id = ANY (( SELECT public.acting_stores() AS acting_stores)::text[]))) OR ((( SELECT public.acting_role() AS acting_role) = 'coach'::text) AND (district_id = ANY (( SELECT public.acting_districts() AS acting_districts)::text[]))) OR ((( SELECT public.acting_role() AS acting_role) = 'owner'::text) AND (owner_id = ANY (( SELECT public.acting_owners() AS acting_owners)::text[])))));

CREATE POLICY weeks_verify ON public.weeks FOR SELECT TO parings_read USING (true);

ALTER TABLE public.writes ENABLE ROW LEVEL SECURITY;

CREATE POLICY writes_add ON public.writes FOR INSERT TO parings_app WITH CHECK ((person_id = ( SELECT public.acting_person() AS acting_person)));

CREATE POLICY writes_read ON public.writes FOR SELECT TO parings_app USING ((person_id = ( SELECT public.acting_person() AS acting_person)));

ALTER TABLE unpacked.daypart_tallies ENABLE ROW LEVEL SECURITY;

CREATE POLICY daypart_tallies_add ON unpacked.daypart_tallies FOR INSERT TO parings_app WITH CHECK (((( SELECT public.acting_role() AS acting_role) = 'rules'::text) AND (store_id = ANY (( SELECT public.acting_stores() AS acting_stores)::text[]))));

CREATE POLICY daypart_tallies_read ON unpacked.daypart_tallies FOR SELECT TO parings_app USING (((( SELECT public.acting_role() AS acting_role) = 'office'::text) OR ((( SELECT public.acting_role() AS acting_role) = ANY (ARRAY['rules'::text, 'manager'::text])) AND (store_id = ANY (( SELECT public.acting_stores() AS acting_stores)::text[]))) OR ((( SELECT public.acting_role() AS acting_role) = 'coach'::text) AND (district_id = ANY (( SELECT public.acting_districts() AS acting_districts)::text[]))) OR ((( SELECT public.acting_role() AS acting_role) = 'owner'::text) AND (owner_id = ANY (( SELECT public.acting_owners() AS acting_owners)::text[])))));

CREATE POLICY daypart_tallies_replace ON unpacked.daypart_tallies FOR DELETE TO parings_app USING (((( SELECT public.acting_role() AS acting_role) = 'rules'::text) AND (store_id = ANY (( SELECT public.acting_stores() AS acting_stores)::text[]))));

CREATE POLICY daypart_tallies_review ON unpacked.daypart_tallies FOR SELECT TO parings_app USING ((( SELECT public.acting_role() AS acting_role) = ANY (ARRAY['review'::text, 'nightly'::text])));

CREATE POLICY daypart_tallies_verify ON unpacked.daypart_tallies FOR SELECT TO parings_read USING (true);

ALTER TABLE unpacked.item_days ENABLE ROW LEVEL SECURITY;

CREATE POLICY item_days_add ON unpacked.item_days FOR INSERT TO parings_app WITH CHECK (((( SELECT public.acting_role() AS acting_role) = 'rules'::text) AND (store_id = ANY (( SELECT public.acting_stores() AS acting_stores)::text[]))));

CREATE POLICY item_days_read ON unpacked.item_days FOR SELECT TO parings_app USING (((( SELECT public.acting_role() AS acting_role) = 'office'::text) OR ((( SELECT public.acting_role() AS acting_role) = ANY (ARRAY['rules'::text, 'manager'::text])) AND (store_id = ANY (( SELECT public.acting_stores() AS acting_stores)::text[]))) OR ((( SELECT public.acting_role() AS acting_role) = 'coach'::text) AND (district_id = ANY (( SELECT public.acting_districts() AS acting_districts)::text[]))) OR ((( SELECT public.acting_role() AS acting_role) = 'owner'::text) AND (owner_id = ANY (( SELECT public.acting_owners() AS acting_owners)::text[])))));

CREATE POLICY item_days_replace ON unpacked.item_days FOR DELETE TO parings_app USING (((( SELECT public.acting_role() AS acting_role) = 'rules'::text) AND (store_id = ANY (( SELECT public.acting_stores() AS acting_stores)::text[]))));

CREATE POLICY item_days_review ON unpacked.item_days FOR SELECT TO parings_app USING ((( SELECT public.acting_role() AS acting_role) = ANY (ARRAY['review'::text, 'nightly'::text])));

CREATE POLICY item_days_verify ON unpacked.item_days FOR SELECT TO parings_read USING (true);

ALTER TABLE unpacked.item_spans ENABLE ROW LEVEL SECURITY;

CREATE POLICY item_spans_add ON unpacked.item_spans FOR INSERT TO parings_app WITH CHECK (((( SELECT public.acting_role() AS acting_role) = 'rules'::text) AND (store_id = ANY (( SELECT public.acting_stores() AS acting_stores)::text[]))));

CREATE POLICY item_spans_lots ON unpacked.item_spans FOR SELECT TO parings_signin USING (true);

CREATE POLICY item_spans_read ON unpacked.item_spans FOR SELECT TO parings_app USING (((( SELECT public.acting_role() AS acting_role) = 'office'::text) OR ((( SELECT public.acting_role() AS acting_role) = ANY (ARRAY['rules'::text, 'manager'::text])) AND (store_id = ANY (( SELECT public.acting_stores() AS acting_stores)::text[]))) OR ((( SELECT public.acting_role() AS acting_role) = 'coach'::text) AND (district_id = ANY (( SELECT public.acting_districts() AS acting_districts)::text[]))) OR ((( SELECT public.acting_role() AS acting_role) = 'owner'::text) AND (owner_id = ANY (( SELECT public.acting_owners() AS acting_owners)::text[])))));

CREATE POLICY item_spans_replace ON unpacked.item_spans FOR DELETE TO parings_app USING (((( SELECT public.acting_role() AS acting_role) = 'rules'::text) AND (store_id = ANY (( SELECT public.acting_stores() AS acting_stores)::text[]))));

CREATE POLICY item_spans_review ON unpacked.item_spans FOR SELECT TO parings_app USING ((( SELECT public.acting_role() AS acting_role) = ANY (ARRAY['review'::text, 'nightly'::text])));

CREATE POLICY item_spans_verify ON unpacked.item_spans FOR SELECT TO parings_read USING (true);

ALTER TABLE unpacked.night_tallies ENABLE ROW LEVEL SECURITY;

CREATE POLICY night_tallies_add ON unpacked.night_tallies FOR INSERT TO parings_app WITH CHECK (((( SELECT public.acting_role() AS acting_role) = 'rules'::text) AND (store_id = ANY (( SELECT public.acting_stores() AS acting_stores)::text[]))));

CREATE POLICY night_tallies_read ON unpacked.night_tallies FOR SELECT TO parings_app USING (((( SELECT public.acting_role() AS acting_role) = 'office'::text) OR ((( SELECT public.acting_role() AS acting_role) = ANY (ARRAY['rules'::text, 'manager'::text])) AND (store_id = ANY (( SELECT public.acting_stores() AS acting_stores)::text[]))) OR ((( SELECT public.acting_role() AS acting_role) = 'coach'::text) AND (district_id = ANY (( SELECT public.acting_districts() AS acting_districts)::text[]))) OR ((( SELECT public.acting_role() AS acting_role) = 'owner'::text) AND (owner_id = ANY (( SELECT public.acting_owners() AS acting_owners)::text[])))));

CREATE POLICY night_tallies_replace ON unpacked.night_tallies FOR DELETE TO parings_app USING (((( SELECT public.acting_role() AS acting_role) = 'rules'::text) AND (store_id = ANY (( SELECT public.acting_stores() AS acting_stores)::text[]))));

CREATE POLICY night_tallies_review ON unpacked.night_tallies FOR SELECT TO parings_app USING ((( SELECT public.acting_role() AS acting_role) = ANY (ARRAY['review'::text, 'nightly'::text])));

CREATE POLICY night_tallies_verify ON unpacked.night_tallies FOR SELECT TO parings_read USING (true);

ALTER TABLE unpacked.review_nights ENABLE ROW LEVEL SECURITY;

CREATE POLICY review_nights_add ON unpacked.review_nights FOR INSERT TO parings_app WITH CHECK ((( SELECT public.acting_role() AS acting_role) = 'nightly'::text));

CREATE POLICY review_nights_read ON unpacked.review_nights FOR SELECT TO parings_app USING ((( SELECT public.acting_role() AS acting_role) = ANY (ARRAY['review'::text, 'nightly'::text])));

CREATE POLICY review_nights_replace ON unpacked.review_nights FOR DELETE TO parings_app USING ((( SELECT public.acting_role() AS acting_role) = 'nightly'::text));

CREATE POLICY review_nights_verify ON unpacked.review_nights FOR SELECT TO parings_read USING (true);

REVOKE USAGE ON SCHEMA public FROM PUBLIC;
GRANT USAGE ON SCHEMA public TO parings_app;
GRANT USAGE ON SCHEMA public TO parings_signin;
GRANT USAGE ON SCHEMA public TO parings_jobs;
GRANT USAGE ON SCHEMA public TO parings_read;

REVOKE ALL ON FUNCTION public.account_of(address text) FROM PUBLIC;
GRANT ALL ON FUNCTION public.account_of(address text) TO parings_app;

REVOKE ALL ON FUNCTION public.act_as(who uuid) FROM PUBLIC;
GRANT ALL ON FUNCTION public.act_as(who uuid) TO parings_app;

REVOKE ALL ON FUNCTION public.act_as(who uuid, session uuid) FROM PUBLIC;
GRANT ALL ON FUNCTION public.act_as(who uuid, session uuid) TO parings_app;

REVOKE ALL ON FUNCTION public.change_own_password(session uuid, verified text, chosen text, at timestamp with time zone) FROM PUBLIC;
GRANT ALL ON FUNCTION public.change_own_password(session uuid, verified text, chosen text, at timestamp with time zone) TO parings_app;

REVOKE ALL ON FUNCTION public.end_own_session(session uuid, at timestamp with time zone) FROM PUBLIC;
GRANT ALL ON FUNCTION public.end_own_session(session uuid, at timestamp with time zone) TO parings_app;

REVOKE ALL ON FUNCTION public.end_session(token bytea, at timestamp with time zone) FROM PUBLIC;
GRANT ALL ON FUNCTION public.end_session(token bytea, at timestamp with time zone) TO parings_app;

REVOKE ALL ON FUNCTION public.end_sessions_of(who uuid, at timestamp with time zone, why text) FROM PUBLIC;
GRANT ALL ON FUNCTION public.end_sessions_of(who uuid, at timestamp with time zone, why text) TO parings_app;

REVOKE ALL ON FUNCTION public.left_of(asked uuid[]) FROM PUBLIC;
GRANT ALL ON FUNCTION public.left_of(asked uuid[]) TO parings_app;

REVOKE ALL ON FUNCTION public.lots_in_review(first date, last date) FROM PUBLIC;
GRANT ALL ON FUNCTION public.lots_in_review(first date, last date) TO parings_app;

REVOKE ALL ON FUNCTION public.make_partitions(earliest date, latest date) FROM PUBLIC;

REVOKE ALL ON FUNCTION public.nights_held(since date) FROM PUBLIC;
GRANT ALL ON FUNCTION public.nights_held(since date) TO parings_app;

REVOKE ALL ON FUNCTION public.refresh_session(token bytea, successor bytea, at timestamp with time zone, until timestamp with time zone, resend_window interval) FROM PUBLIC;
GRANT ALL ON FUNCTION public.refresh_session(token bytea, successor bytea, at timestamp with time zone, until timestamp with time zone, resend_window interval) TO parings_app;

REVOKE ALL ON FUNCTION public.service_has_secret(who uuid, hash bytea) FROM PUBLIC;
GRANT ALL ON FUNCTION public.service_has_secret(who uuid, hash bytea) TO parings_app;

REVOKE ALL ON FUNCTION public.start_session(who uuid, verified text, session uuid, hash bytea, at timestamp with time zone, until timestamp with time zone) FROM PUBLIC;
GRANT ALL ON FUNCTION public.start_session(who uuid, verified text, session uuid, hash bytea, at timestamp with time zone, until timestamp with time zone) TO parings_app;

REVOKE ALL ON FUNCTION public.store_in_force(store text, on_date date, known timestamp with time zone) FROM PUBLIC;
GRANT ALL ON FUNCTION public.store_in_force(store text, on_date date, known timestamp with time zone) TO parings_app;
GRANT ALL ON FUNCTION public.store_in_force(store text, on_date date, known timestamp with time zone) TO parings_read;

REVOKE ALL ON FUNCTION public.store_stood(store text, on_date date, known timestamp with time zone) FROM PUBLIC;
GRANT ALL ON FUNCTION public.store_stood(store text, on_date date, known timestamp with time zone) TO parings_app;

REVOKE ALL ON FUNCTION public.store_versions(until date, known timestamp with time zone) FROM PUBLIC;
GRANT ALL ON FUNCTION public.store_versions(until date, known timestamp with time zone) TO parings_app;

REVOKE ALL ON FUNCTION public.told_of(asked uuid[]) FROM PUBLIC;
GRANT ALL ON FUNCTION public.told_of(asked uuid[]) TO parings_app;

REVOKE ALL ON FUNCTION public.transfers_naming(first date, last date, known timestamp with time zone) FROM PUBLIC;
GRANT ALL ON FUNCTION public.transfers_naming(first date, last date, known timestamp with time zone) TO parings_app;

REVOKE ALL ON FUNCTION public.versions_of_store(store text, until date, known timestamp with time zone) FROM PUBLIC;
GRANT ALL ON FUNCTION public.versions_of_store(store text, until date, known timestamp with time zone) TO parings_app;
GRANT ALL ON FUNCTION public.versions_of_store(store text, until date, known timestamp with time zone) TO parings_read;

REVOKE ALL ON FUNCTION public.versions_of_stores(district text, owner text, until date, known timestamp with time zone) FROM PUBLIC;
GRANT ALL ON FUNCTION public.versions_of_stores(district text, owner text, until date, known timestamp with time zone) TO parings_app;

GRANT SELECT ON TABLE public.__diesel_schema_migrations TO parings_app;

GRANT SELECT,INSERT ON TABLE public.audit TO parings_app;
GRANT INSERT ON TABLE public.audit TO parings_signin;
GRANT SELECT ON TABLE public.audit TO parings_read;

GRANT SELECT,INSERT ON TABLE public.case_events TO parings_app;
GRANT SELECT ON TABLE public.case_events TO parings_read;

GRANT SELECT,INSERT ON TABLE public.cases TO parings_app;
GRANT SELECT ON TABLE public.cases TO parings_read;

GRANT SELECT,INSERT,UPDATE ON TABLE public.nights TO parings_app;
GRANT SELECT ON TABLE public.nights TO parings_read;

GRANT SELECT ON TABLE public.daypart_tallies TO parings_read;

GRANT SELECT,INSERT ON TABLE public.diary_entries TO parings_app;
GRANT SELECT ON TABLE public.diary_entries TO parings_read;

GRANT SELECT,INSERT ON TABLE public.diary_withdrawals TO parings_app;
GRANT SELECT ON TABLE public.diary_withdrawals TO parings_read;

GRANT SELECT,INSERT ON TABLE public.entries TO parings_app;
GRANT SELECT ON TABLE public.entries TO parings_read;

GRANT SELECT(business_date) ON TABLE public.entries TO parings_signin;

GRANT SELECT(store_id) ON TABLE public.entries TO parings_signin;

GRANT SELECT(id) ON TABLE public.entries TO parings_signin;

GRANT SELECT(kind) ON TABLE public.entries TO parings_signin;

GRANT SELECT(body) ON TABLE public.entries TO parings_signin;

GRANT SELECT(recorded_at) ON TABLE public.entries TO parings_signin;

GRANT SELECT,INSERT ON TABLE public.entry_ids TO parings_app;

GRANT SELECT,INSERT ON TABLE public.entry_withdrawals TO parings_app;
GRANT SELECT ON TABLE public.entry_withdrawals TO parings_read;

GRANT SELECT(entry_id) ON TABLE public.entry_withdrawals TO parings_signin;

GRANT SELECT,INSERT ON TABLE public.finding_answers TO parings_app;
GRANT SELECT ON TABLE public.finding_answers TO parings_read;

GRANT SELECT,INSERT ON TABLE public.findings TO parings_app;
GRANT SELECT ON TABLE public.findings TO parings_read;

GRANT SELECT,INSERT ON TABLE public.imports TO parings_app;

GRANT SELECT ON TABLE public.item_days TO parings_read;

GRANT SELECT ON TABLE public.item_spans TO parings_read;

GRANT SELECT,INSERT ON TABLE public.night_answers TO parings_app;
GRANT SELECT ON TABLE public.night_answers TO parings_read;

GRANT SELECT,INSERT ON TABLE public.night_pins TO parings_app;
GRANT SELECT ON TABLE public.night_pins TO parings_read;

GRANT SELECT,INSERT ON TABLE public.night_revisions TO parings_app;
GRANT SELECT ON TABLE public.night_revisions TO parings_read;

GRANT SELECT(business_date) ON TABLE public.night_revisions TO parings_signin;

GRANT SELECT(store_id) ON TABLE public.night_revisions TO parings_signin;

GRANT SELECT(revision) ON TABLE public.night_revisions TO parings_signin;

GRANT SELECT(recorded_at) ON TABLE public.night_revisions TO parings_signin;

GRANT SELECT(state) ON TABLE public.night_revisions TO parings_signin;

GRANT SELECT,INSERT ON TABLE public.night_settlements TO parings_app;
GRANT SELECT ON TABLE public.night_settlements TO parings_read;

GRANT SELECT(business_date) ON TABLE public.night_settlements TO parings_signin;

GRANT SELECT(store_id) ON TABLE public.night_settlements TO parings_signin;

GRANT SELECT(revision) ON TABLE public.night_settlements TO parings_signin;

GRANT SELECT,INSERT ON TABLE public.till_batches TO parings_app;
GRANT SELECT ON TABLE public.till_batches TO parings_read;

GRANT SELECT ON TABLE public.night_events TO parings_app;

GRANT USAGE ON SEQUENCE public.night_generations TO parings_app;

GRANT SELECT ON TABLE public.night_tallies TO parings_read;

GRANT SELECT,INSERT ON TABLE public.par_publications TO parings_app;
GRANT SELECT ON TABLE public.par_publications TO parings_read;

GRANT SELECT,INSERT ON TABLE public.par_revisions TO parings_app;
GRANT SELECT ON TABLE public.par_revisions TO parings_read;

GRANT INSERT ON TABLE public.people TO parings_app;
GRANT SELECT ON TABLE public.people TO parings_signin;

GRANT SELECT(id) ON TABLE public.people TO parings_app;
GRANT SELECT(id) ON TABLE public.people TO parings_read;

GRANT SELECT(kind) ON TABLE public.people TO parings_app;
GRANT SELECT(kind) ON TABLE public.people TO parings_read;

GRANT SELECT(name),UPDATE(name) ON TABLE public.people TO parings_app;
GRANT SELECT(name) ON TABLE public.people TO parings_read;

GRANT SELECT(email) ON TABLE public.people TO parings_app;
GRANT SELECT(email) ON TABLE public.people TO parings_read;

GRANT SELECT(role),UPDATE(role) ON TABLE public.people TO parings_app;
GRANT SELECT(role) ON TABLE public.people TO parings_read;

GRANT SELECT(places),UPDATE(places) ON TABLE public.people TO parings_app;
GRANT SELECT(places) ON TABLE public.people TO parings_read;

GRANT UPDATE(password_hash) ON TABLE public.people TO parings_app;
GRANT UPDATE(password_hash) ON TABLE public.people TO parings_signin;

GRANT UPDATE(secret_hash) ON TABLE public.people TO parings_app;

GRANT SELECT(created_at) ON TABLE public.people TO parings_app;
GRANT SELECT(created_at) ON TABLE public.people TO parings_read;

GRANT SELECT(created_by) ON TABLE public.people TO parings_app;
GRANT SELECT(created_by) ON TABLE public.people TO parings_read;

GRANT SELECT(changed_at),UPDATE(changed_at) ON TABLE public.people TO parings_app;
GRANT SELECT(changed_at) ON TABLE public.people TO parings_read;
GRANT UPDATE(changed_at) ON TABLE public.people TO parings_signin;

GRANT SELECT(disabled_at),UPDATE(disabled_at) ON TABLE public.people TO parings_app;
GRANT SELECT(disabled_at) ON TABLE public.people TO parings_read;

GRANT SELECT,INSERT ON TABLE public.reference_versions TO parings_app;
GRANT SELECT ON TABLE public.reference_versions TO parings_read;

GRANT SELECT(id) ON TABLE public.reference_versions TO parings_signin;

GRANT SELECT(kind) ON TABLE public.reference_versions TO parings_signin;

GRANT SELECT(code) ON TABLE public.reference_versions TO parings_signin;

GRANT SELECT(valid_from) ON TABLE public.reference_versions TO parings_signin;

GRANT SELECT(recorded_at) ON TABLE public.reference_versions TO parings_signin;

GRANT SELECT(retired) ON TABLE public.reference_versions TO parings_signin;

GRANT SELECT(body) ON TABLE public.reference_versions TO parings_signin;

GRANT SELECT(district_id) ON TABLE public.reference_versions TO parings_signin;

GRANT SELECT(owner_id) ON TABLE public.reference_versions TO parings_signin;

GRANT SELECT,INSERT ON TABLE public.refresh_families_ended TO parings_signin;

GRANT SELECT,INSERT,UPDATE ON TABLE public.refresh_tokens TO parings_signin;

GRANT SELECT,INSERT ON TABLE public.reviews TO parings_app;
GRANT SELECT ON TABLE public.reviews TO parings_read;

GRANT SELECT,INSERT,UPDATE ON TABLE public.weeks TO parings_app;
GRANT SELECT ON TABLE public.weeks TO parings_read;

GRANT SELECT,INSERT ON TABLE public.writes TO parings_app;

GRANT SELECT,INSERT,DELETE ON TABLE unpacked.daypart_tallies TO parings_app;
GRANT SELECT ON TABLE unpacked.daypart_tallies TO parings_read;

GRANT SELECT,INSERT,DELETE ON TABLE unpacked.item_days TO parings_app;
GRANT SELECT ON TABLE unpacked.item_days TO parings_read;

GRANT SELECT,INSERT,DELETE ON TABLE unpacked.item_spans TO parings_app;
GRANT SELECT ON TABLE unpacked.item_spans TO parings_read;

GRANT SELECT(business_date) ON TABLE unpacked.item_spans TO parings_signin;

GRANT SELECT(item_id) ON TABLE unpacked.item_spans TO parings_signin;

GRANT SELECT(used_cost) ON TABLE unpacked.item_spans TO parings_signin;

GRANT SELECT,INSERT,DELETE ON TABLE unpacked.night_tallies TO parings_app;
GRANT SELECT ON TABLE unpacked.night_tallies TO parings_read;

GRANT SELECT,INSERT,DELETE ON TABLE unpacked.review_nights TO parings_app;
GRANT SELECT ON TABLE unpacked.review_nights TO parings_read;

