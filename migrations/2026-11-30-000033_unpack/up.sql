-- Written by `parings_core::tally::pack::sql` from the fields of a packed night. Do not edit.

-- The whole numbers that bytes are.
CREATE FUNCTION packed_numbers(packed bytea) RETURNS bigint[]
LANGUAGE plpgsql IMMUTABLE STRICT PARALLEL SAFE AS $$
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

-- Of `numbers`, those of a record of so many fields that begins at a place, and the place after them.
CREATE FUNCTION packed_record(numbers bigint[], place integer, fields integer,
  OUT record bigint[], OUT after integer)
LANGUAGE plpgsql IMMUTABLE PARALLEL SAFE AS $$
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

-- The parts of a packed night: what each is, the codes it is of, and its numbers.
CREATE FUNCTION night_parts(counted text, others text, packed bytea)
RETURNS TABLE (part text, codes text[], numbers bigint[])
LANGUAGE plpgsql IMMUTABLE STRICT PARALLEL SAFE AS $$
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

-- What happened to an item on a business date.
CREATE VIEW item_days WITH (security_invoker = true) AS
  SELECT n.business_date, n.store_id, n.rules, n.known_at, n.district_id, n.region_id, n.owner_id, p.codes[1] AS item_id,
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
    p.numbers[21] <> 0 AS over_cap,
    CASE WHEN p.numbers[1] & 4 <> 0 THEN p.numbers[22] END AS closing,
    CASE WHEN p.numbers[1] & 4 <> 0 THEN p.numbers[23] END AS closing_sd,
    p.numbers[24] AS samples,
    p.numbers[25] AS sample_sum,
    p.numbers[26] AS sample_squares,
    (SELECT coalesce(jsonb_agg(jsonb_build_object('reason', w.codes[2], 'stage', nullif(w.codes[3], ''), 'daypart', nullif(w.codes[4], ''),
      'safety', w.numbers[1] <> 0, 'amount', w.numbers[2], 'cost', w.numbers[3])), '[]')
      FROM night_parts(n.counted, n.others, n.packed) w
      WHERE w.part = 'waste' AND w.codes[1] = p.codes[1]) AS waste
  FROM nights n, LATERAL night_parts(n.counted, n.others, n.packed) p
  WHERE p.part = 'item' AND p.numbers[1] & 1 <> 0;
GRANT SELECT ON item_days TO parings_read;

-- Use of an item from the count before to the one of a business date.
CREATE VIEW item_spans WITH (security_invoker = true) AS
  SELECT n.business_date, n.store_id, n.rules, n.known_at, n.district_id, n.region_id, n.owner_id, p.codes[1] AS item_id,
    n.business_date - p.numbers[5]::integer AS opened_on,
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
    CASE WHEN p.numbers[4] & 1 <> 0 THEN p.numbers[11] END AS used_cost,
    CASE WHEN p.numbers[4] & 2 <> 0 THEN p.numbers[7] END AS expected,
    CASE WHEN p.numbers[4] & 4 <> 0 THEN p.numbers[8] END AS expected_cost,
    CASE WHEN p.numbers[4] & 8 <> 0 THEN p.numbers[3] END AS variance_cost,
    CASE WHEN p.numbers[4] & 16 <> 0 THEN p.numbers[12] END AS sales,
    to_jsonb(array_remove(ARRAY[CASE WHEN p.numbers[29] & 1 <> 0 THEN 'negative_use' END,
      CASE WHEN p.numbers[29] & 2 <> 0 THEN 'waste_above_handled' END,
      CASE WHEN p.numbers[29] & 4 <> 0 THEN 'impossible_yield' END,
      CASE WHEN p.numbers[29] & 8 <> 0 THEN 'short_days' END], NULL)) AS doubts,
    p.numbers[30] <> 0 AS owner_changed,
    CASE WHEN p.numbers[4] & 32 <> 0 THEN
      timestamptz 'epoch' + p.numbers[31] * interval '1 microsecond' END AS restated_at
  FROM nights n, LATERAL night_parts(n.counted, n.others, n.packed) p
  WHERE p.part = 'span';
GRANT SELECT ON item_spans TO parings_read;

-- Orders, sales and ticket times of a daypart and channel.
CREATE VIEW daypart_tallies WITH (security_invoker = true) AS
  SELECT n.business_date, n.store_id, n.rules, n.known_at, n.district_id, n.region_id, n.owner_id, p.codes[1] AS daypart_id, p.codes[2] AS channel_id,
    p.numbers[1] AS units,
    p.numbers[2] AS sales,
    p.numbers[3] AS stock_out_minutes,
    p.numbers[4] AS orders,
    p.numbers[5] AS with_target,
    p.numbers[6] AS late,
    p.numbers[7] AS never_closed,
    p.numbers[8] AS lump_closed,
    (SELECT coalesce(jsonb_agg(jsonb_build_array(t.numbers[1], t.numbers[2])), '[]')
      FROM night_parts(n.counted, n.others, n.packed) t
      WHERE t.part = 'times' AND t.codes = p.codes) AS times
  FROM nights n, LATERAL night_parts(n.counted, n.others, n.packed) p
  WHERE p.part = 'daypart';
GRANT SELECT ON daypart_tallies TO parings_read;

-- The night itself.
CREATE VIEW night_tallies WITH (security_invoker = true) AS
  SELECT n.business_date, n.store_id, n.rules, n.known_at, n.district_id, n.region_id, n.owner_id, n.revision, n.generation,
    p.numbers[6] AS items_due,
    p.numbers[7] AS items_counted,
    p.numbers[8] AS wasted_cost,
    p.numbers[9] AS wasted_safety_cost,
    p.numbers[11] AS items_left_out,
    p.numbers[12] AS unmapped_units,
    p.numbers[5] <> 0 AS counted,
    p.numbers[10] <> 0 AS partial,
    p.numbers[13] <> 0 AS short,
    (ARRAY['none', 'feed', 'typed'])[p.numbers[1] + 1] AS sales_source,
    CASE WHEN p.numbers[2] & 1 <> 0 THEN p.numbers[3] END AS sales,
    CASE WHEN p.numbers[2] & 2 <> 0 THEN p.numbers[4] END AS units
  FROM nights n, LATERAL night_parts(n.counted, n.others, n.packed) p
  WHERE p.part = 'night';
GRANT SELECT ON night_tallies TO parings_read;

