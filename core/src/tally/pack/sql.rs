//! The functions by which the database unpacks nights, for analysts and for `parings verify`: written from
//! the same tables of fields as the code that packs them.

use std::fmt::Write;

use super::{COUNT, DAYPART, ITEM_DAY, NIGHT, Part, SAMPLES, SPAN, TICKETS, VERSION, WASTE};
use super::{COUNTED, HAPPENED, KEPT, SALES, SAMPLED, SPANNED, UNITS, WASTED};
use crate::tally::Doubt;

/// The statements that make `night_parts`, which lists the parts of a packed night, and the views that
/// show each kind of part under the names of its fields.
pub fn sql() -> String {
    let mut text = String::from(HEAD);
    text += &parts();
    for view in [item_days(), item_spans(), daypart_tallies(), night_tallies()] {
        text += &view;
    }
    text
}

const HEAD: &str = "\
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

";

/// A number of the date's item, or of the span, where they stand in the function's arrays.
fn placed(expression: &str) -> String {
    let mut text = expression.to_owned();
    let day: Vec<&str> = [ITEM_DAY, COUNT, SAMPLES].concat();
    let span = SPAN.iter().map(|(name, _)| *name).collect();
    // The longest names first: some begin with others.
    for (prefix, list, array) in [("day.", day, "d"), ("span.", span, "s")] {
        let mut fields: Vec<(usize, &str)> = list.into_iter().enumerate().collect();
        fields.sort_by_key(|(_, name)| std::cmp::Reverse(name.len()));
        for (n, name) in fields {
            text = text.replace(&format!("{prefix}{name}"), &format!("{array}[{}]", n + 1));
        }
    }
    text
}

fn parts() -> String {
    let mut spans = String::new();
    for (n, (_, otherwise)) in SPAN.iter().enumerate() {
        let otherwise = placed(otherwise);
        if otherwise != "0" {
            let _ = writeln!(spans, "      s[{0}] := s[{0}] + {otherwise};", n + 1);
        }
    }
    let (days, counts, samples) = (ITEM_DAY.len(), COUNT.len(), SAMPLES.len());
    format!(
        "\
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
  IF n[1] <> {VERSION} THEN
    RAISE EXCEPTION 'a packed night is of version %, which is not known', n[1];
  END IF;
  SELECT record, after INTO r, i FROM packed_record(n, i, {night_fields});
  bits := n[i + 1];
  many := n[i];
  i := i + 2;
  IF bits & {SALES} <> 0 THEN
    night_sales := (n[i] >> 1) # -(n[i] & 1);
    i := i + 1;
  END IF;
  IF bits & {UNITS} <> 0 THEN
    night_units := n[i];
    i := i + 1;
  END IF;
  part := '{night}';
  codes := '{{}}';
  numbers := ARRAY[many, bits, night_sales, night_units] || r;
  RETURN NEXT;
  FOR item IN 1 .. coalesce(cardinality(items), 0) LOOP
    bits := n[i];
    i := i + 1;
    d := array_fill(0::bigint, ARRAY[{all_days}]);
    IF bits & {HAPPENED} <> 0 THEN
      SELECT record, after INTO r, i FROM packed_record(n, i, {days});
      d[1:{days}] := r;
    END IF;
    IF bits & {COUNTED} <> 0 THEN
      SELECT record, after INTO r, i FROM packed_record(n, i, {counts});
      d[{count_from}:{count_to}] := r;
    END IF;
    IF bits & {SAMPLED} <> 0 THEN
      SELECT record, after INTO r, i FROM packed_record(n, i, {samples});
      d[{samples_from}:{all_days}] := r;
    END IF;
    IF bits & ({HAPPENED} | {KEPT}) <> 0 THEN
      part := '{item}';
      codes := ARRAY[items[item]];
      numbers := (bits & ({HAPPENED} | {KEPT} | {COUNTED})) || d;
      RETURN NEXT;
    END IF;
    IF bits & {WASTED} <> 0 THEN
      many := n[i];
      i := i + 1;
      FOR line IN 1 .. many LOOP
        part := '{waste}';
        codes := ARRAY[items[item], reasons[n[i] + 1],
          CASE n[i + 1] WHEN 0 THEN '' ELSE stages[n[i + 1]] END,
          CASE n[i + 2] WHEN 0 THEN '' ELSE dayparts[n[i + 2]] END];
        SELECT record, after INTO numbers, i FROM packed_record(n, i + 3, {waste_fields});
        RETURN NEXT;
      END LOOP;
    END IF;
    IF bits & {SPANNED} <> 0 THEN
      SELECT record, after INTO s, i FROM packed_record(n, i, {span_fields});
{spans}      part := '{span}';
      codes := ARRAY[items[item]];
      numbers := s;
      RETURN NEXT;
    END IF;
  END LOOP;
  many := n[i];
  i := i + 1;
  FOR one IN 1 .. many LOOP
    part := '{daypart}';
    codes := ARRAY[dayparts[n[i] + 1], channels[n[i + 1] + 1]];
    SELECT record, after INTO r, i FROM packed_record(n, i + 2, {daypart_fields});
    numbers := r;
    SELECT record, after INTO r, i FROM packed_record(n, i, {ticket_fields});
    numbers := numbers || r;
    RETURN NEXT;
    part := '{times}';
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

",
        night_fields = NIGHT.len(),
        all_days = days + counts + samples,
        count_from = days + 1,
        count_to = days + counts,
        samples_from = days + counts + 1,
        waste_fields = WASTE.len(),
        span_fields = SPAN.len(),
        daypart_fields = DAYPART.len(),
        ticket_fields = TICKETS.len(),
        night = Part::Night.word(),
        item = Part::Item.word(),
        waste = Part::Waste.word(),
        span = Part::Span.word(),
        daypart = Part::Daypart.word(),
        times = Part::Times.word(),
    )
}

/// A column of a view: a number as it is, a flag, or one that may be unknown.
fn number(part: Part, name: &str) -> String {
    let place = part.columns().iter().position(|column| *column == name).map_or(0, |n| n + 1);
    format!("p.numbers[{place}]")
}

fn plain(part: Part, names: &[&str]) -> String {
    names.iter().fold(String::new(), |mut text, name| {
        let _ = write!(text, ",\n    {} AS {name}", number(part, name));
        text
    })
}

fn flag(part: Part, name: &str) -> String {
    format!(",\n    {} <> 0 AS {name}", number(part, name))
}

/// A number that is known where a bit of another is set.
fn known(part: Part, name: &str, of: &str, bit: u64) -> String {
    let (value, bits) = (number(part, name), number(part, of));
    format!(",\n    CASE WHEN {bits} & {bit} <> 0 THEN {value} END AS {name}")
}

fn view(name: &str, says: &str, part: Part, codes: &str, columns: &str) -> String {
    format!(
        "\
-- {says}
CREATE VIEW {name} WITH (security_invoker = true) AS
  SELECT n.business_date, n.store_id, n.rules, n.known_at, n.district_id, n.region_id, n.owner_id{codes}{columns}
  FROM nights n, LATERAL night_parts(n.counted, n.others, n.packed) p
  WHERE p.part = '{part}';
GRANT SELECT ON {name} TO parings_read;

",
        part = part.word()
    )
}

fn item_days() -> String {
    let part = Part::Item;
    let waste = "(SELECT coalesce(jsonb_agg(jsonb_build_object('reason', w.codes[2], \
                 'stage', nullif(w.codes[3], ''), 'daypart', nullif(w.codes[4], ''),\n      \
                 'safety', w.numbers[1] <> 0, 'amount', w.numbers[2], 'cost', w.numbers[3])), '[]')\n      \
                 FROM night_parts(n.counted, n.others, n.packed) w\n      \
                 WHERE w.part = 'waste' AND w.codes[1] = p.codes[1]) AS waste";
    let numbers: Vec<&str> = ITEM_DAY.iter().copied().filter(|name| *name != "over_cap").collect();
    let columns = plain(part, &numbers)
        + &flag(part, "over_cap")
        + &known(part, "closing", "bits", COUNTED)
        + &known(part, "closing_sd", "bits", COUNTED)
        + &plain(part, SAMPLES)
        + &format!(",\n    {waste}");
    let says = "What happened to an item on a business date.";
    let all = view("item_days", says, part, ", p.codes[1] AS item_id", &columns);
    // What is only kept has no row.
    let happened = format!("WHERE p.part = 'item' AND {} & {HAPPENED} <> 0;", number(part, "bits"));
    all.replace("WHERE p.part = 'item';", &happened)
}

fn item_spans() -> String {
    let part = Part::Span;
    let unknown = [
        ("used_cost", 1),
        ("expected", 2),
        ("expected_cost", 4),
        ("variance_cost", 8),
        ("sales", 16),
    ];
    let special = ["known", "opened_back", "restated_at", "doubts", "owner_changed"];
    let is_plain = |name: &&str| {
        !special.contains(name) && !unknown.iter().any(|(unknown, _)| unknown == name)
    };
    let numbers: Vec<&str> = part.columns().into_iter().filter(is_plain).collect();
    let mut columns =
        format!(",\n    n.business_date - {}::integer AS opened_on", number(part, "opened_back"))
            + &plain(part, &numbers);
    for (name, bit) in unknown {
        columns += &known(part, name, "known", bit);
    }
    let doubts = Doubt::ALL.iter().enumerate().map(|(n, doubt)| {
        let bits = number(part, "doubts");
        format!("CASE WHEN {bits} & {} <> 0 THEN '{}' END", 1 << n, doubt.word())
    });
    let doubts = doubts.collect::<Vec<_>>().join(",\n      ");
    columns += &format!(
        ",\n    to_jsonb(array_remove(ARRAY[{doubts}], NULL)) AS doubts{}\
         ,\n    CASE WHEN {} & 32 <> 0 THEN\n      \
         timestamptz 'epoch' + {} * interval '1 microsecond' END AS restated_at",
        flag(part, "owner_changed"),
        number(part, "known"),
        number(part, "restated_at"),
    );
    let says = "Use of an item from the count before to the one of a business date.";
    view("item_spans", says, part, ", p.codes[1] AS item_id", &columns)
}

fn daypart_tallies() -> String {
    let part = Part::Daypart;
    let times = ",\n    (SELECT coalesce(jsonb_agg(jsonb_build_array(t.numbers[1], t.numbers[2])), '[]')\n      \
                 FROM night_parts(n.counted, n.others, n.packed) t\n      \
                 WHERE t.part = 'times' AND t.codes = p.codes) AS times";
    let columns = plain(part, &[DAYPART, TICKETS].concat()) + times;
    let codes = ", p.codes[1] AS daypart_id, p.codes[2] AS channel_id";
    view(
        "daypart_tallies",
        "Orders, sales and ticket times of a daypart and channel.",
        part,
        codes,
        &columns,
    )
}

fn night_tallies() -> String {
    let part = Part::Night;
    let flags = ["counted", "partial", "short"];
    let numbers: Vec<&str> = NIGHT.iter().copied().filter(|name| !flags.contains(name)).collect();
    let mut columns = plain(part, &numbers);
    for name in flags {
        columns += &flag(part, name);
    }
    let source = number(part, "sales_source");
    columns += &format!(",\n    (ARRAY['none', 'feed', 'typed'])[{source} + 1] AS sales_source");
    columns += &known(part, "sales", "known", SALES);
    columns += &known(part, "units", "known", UNITS);
    let says = "The night itself.";
    view("night_tallies", says, part, ", n.revision, n.generation", &columns)
}
