//! What stands in a cell of a CSV file, and the JSON value it stands for.

use parings_core::calendar::instant;
use parings_core::quantity::decimal;
use serde_json::{Map, Value, json};
use uuid::Uuid;

use super::Dialect;
use super::columns::{Cell, List};

/// Characters with which a spreadsheet begins a formula (OWASP, CSV injection; from memory).
const FORMULA: [char; 6] = ['=', '+', '-', '@', '\t', '\r'];

/// Whether a spreadsheet would take a text for a formula, however many guards stand before it.
fn is_formula(text: &str) -> bool {
    text.trim_start_matches('\'').starts_with(FORMULA)
}

/// A text as it is written to a cell: one that a spreadsheet would take for a formula has an
/// apostrophe before it.
///
/// ```
/// use parings::files::cell::{guarded, unguarded};
///
/// assert_eq!(guarded("=1+2"), "'=1+2");
/// assert_eq!(guarded("'=1+2"), "''=1+2");
/// assert_eq!(guarded("Ada's"), "Ada's");
/// assert_eq!(unguarded("'=1+2"), "=1+2");
/// ```
pub fn guarded(text: &str) -> String {
    if is_formula(text) { format!("'{text}") } else { text.to_owned() }
}

/// The text of a cell, its guard taken off.
pub fn unguarded(cell: &str) -> &str {
    match cell.strip_prefix('\'') {
        Some(text) if is_formula(text) => text,
        _ => cell,
    }
}

/// Reads a cell that is not empty.
///
/// # Errors
/// A sentence that says what would be right.
pub fn read(cell: Cell, text: &str, dialect: Dialect) -> Result<Value, String> {
    match cell {
        Cell::Text => Ok(unguarded(text).into()),
        Cell::Date => Ok(text.into()),
        Cell::Instant => instant::parse(text).map(|_| text.into()).map_err(|e| e.to_string()),
        Cell::Number => number(text, dialect).map(Value::from),
        Cell::Whole => whole(text),
        Cell::YesNo => match text {
            "yes" => Ok(true.into()),
            "no" => Ok(false.into()),
            _ => Err(format!("\"{text}\" is neither yes nor no")),
        },
        Cell::Id => {
            Uuid::parse_str(text).map(|_| text.into()).map_err(|_| format!("\"{text}\" is no UUID"))
        }
        Cell::List(list) => {
            let read = |part: String| match list {
                List::Texts => Ok(part.into()),
                List::Amounts => amount(&part, dialect),
                List::Steps => {
                    let (stage, out) = named(&part)?;
                    Ok(json!({ "stage": stage, "out": amount(out, dialect)? }))
                }
                List::Inputs => {
                    let (name, put_in) = named(&part)?;
                    let mut input = Map::new();
                    let (item, stage) = name.split_once('@').unzip();
                    input.insert("item".to_owned(), item.unwrap_or(name).into());
                    if let Some(stage) = stage {
                        input.insert("stage".to_owned(), stage.into());
                    }
                    input.insert("quantity".to_owned(), amount(put_in, dialect)?);
                    Ok(input.into())
                }
                List::Additions => {
                    let (code, units) = named(&part)?;
                    Ok(json!({ "code": code, "units": whole(units)? }))
                }
            };
            parts(unguarded(text)).into_iter().map(read).collect()
        }
    }
}

/// Writes a value to a cell.
pub fn show(cell: Cell, value: &Value, dialect: Dialect) -> String {
    match cell {
        Cell::Text => guarded(&plain(value)),
        Cell::Date | Cell::Instant | Cell::Id | Cell::Whole => plain(value),
        Cell::Number => shown_number(value, dialect),
        Cell::YesNo => if value == &Value::Bool(true) { "yes" } else { "no" }.to_owned(),
        Cell::List(list) => {
            let parts = value.as_array().into_iter().flatten().map(|part| match list {
                List::Texts => plain(part),
                List::Amounts => shown_amount(part, dialect),
                List::Steps => {
                    format!("{}={}", plain(&part["stage"]), shown_amount(&part["out"], dialect))
                }
                List::Inputs => {
                    let stage = part.get("stage").map(|stage| format!("@{}", plain(stage)));
                    let amount = shown_amount(&part["quantity"], dialect);
                    format!("{}{}={amount}", plain(&part["item"]), stage.unwrap_or_default())
                }
                List::Additions => format!("{}={}", plain(&part["code"]), plain(&part["units"])),
            });
            let parts: Vec<_> = parts.map(|part| part.replace('|', "||")).collect();
            guarded(&parts.join(" | "))
        }
    }
}

/// The parts of a list; `||` is a `|` within one.
fn parts(text: &str) -> Vec<String> {
    let mut parts = vec![String::new()];
    let mut characters = text.chars().peekable();
    while let Some(c) = characters.next() {
        match parts.last_mut() {
            Some(part) if c != '|' || characters.next_if_eq(&'|').is_some() => part.push(c),
            _ => parts.push(String::new()),
        }
    }
    parts.into_iter().map(|part| part.trim().to_owned()).collect()
}

/// A name and what it is given, which follows the last `=`.
fn named(part: &str) -> Result<(&str, &str), String> {
    let (name, given) = part
        .rsplit_once('=')
        .ok_or_else(|| format!("\"{part}\" has no =: write a name, =, and how much of it"))?;
    Ok((name.trim(), given.trim()))
}

fn amount(text: &str, dialect: Dialect) -> Result<Value, String> {
    let (value, unit) = text
        .split_once(' ')
        .ok_or_else(|| format!("\"{text}\" is no amount: write a number, a space and a unit"))?;
    Ok(json!({ "value": number(value, dialect)?, "unit": unit.trim() }))
}

fn whole(text: &str) -> Result<Value, String> {
    let whole = text.parse::<u32>().map_err(|_| format!("\"{text}\" is no whole number"));
    whole.map(Value::from)
}

/// A number in plain form, whatever the dialect's point.
fn number(text: &str, dialect: Dialect) -> Result<String, String> {
    let plain = match dialect {
        Dialect::Comma => text.to_owned(),
        Dialect::Semicolon if text.contains('.') => {
            return Err(format!(
                "\"{text}\" is no number in the dialect semicolon: decimals have a comma, and \
                 nothing stands between thousands"
            ));
        }
        Dialect::Semicolon => text.replacen(',', ".", 1),
    };
    let hint = match dialect {
        Dialect::Comma if text.contains(',') => "; decimals have a point in the dialect comma",
        _ => "",
    };
    decimal::parse(&plain).map(|_| plain).map_err(|_| {
        format!("\"{text}\" is no number: digits, and a \"{}\" with more{hint}", dialect.point())
    })
}

fn plain(value: &Value) -> String {
    value.as_str().map_or_else(|| value.to_string(), str::to_owned)
}

fn shown_number(value: &Value, dialect: Dialect) -> String {
    plain(value).replacen('.', &dialect.point().to_string(), 1)
}

fn shown_amount(amount: &Value, dialect: Dialect) -> String {
    format!("{} {}", shown_number(&amount["value"], dialect), plain(&amount["unit"]))
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    const KG: &str = "15.76 kg | 2 bag";

    #[test]
    fn lists_are_read_part_by_part() {
        let read = |list, text| read(Cell::List(list), text, Dialect::Comma);
        let amount = |value: &str, unit: &str| json!({ "value": value, "unit": unit });
        assert_eq!(read(List::Amounts, KG), Ok(json!([amount("15.76", "kg"), amount("2", "bag")])));
        assert_eq!(read(List::Texts, "Ada | B||C"), Ok(json!(["Ada", "B|C"])));
        let steps = json!([{ "stage": "blanch", "out": amount("1", "kg") }]);
        assert_eq!(read(List::Steps, "blanch=1 kg"), Ok(steps));
        let inputs = json!([{ "item": "potato", "stage": "chill", "quantity": amount("2", "kg") },
            { "item": "salt", "quantity": amount("10", "g") }]);
        assert_eq!(read(List::Inputs, "potato@chill=2 kg | salt=10 g"), Ok(inputs));
        let added = json!([{ "code": "a=b", "units": 2 }]);
        assert_eq!(read(List::Additions, "a=b=2"), Ok(added));
        for bad in ["", "blanch", "blanch=", "blanch=1", "blanch=x kg", "blanch=1 kg |"] {
            assert!(read(List::Steps, bad).is_err(), "{bad}");
        }
    }

    #[test]
    fn a_number_has_the_point_of_its_dialect() {
        let read = |text, dialect| read(Cell::Number, text, dialect);
        assert_eq!(read("18.50", Dialect::Comma), Ok(json!("18.50")));
        assert_eq!(read("18,50", Dialect::Semicolon), Ok(json!("18.50")));
        assert_eq!(read("-3", Dialect::Semicolon), Ok(json!("-3")));
        for (text, dialect) in [
            ("18,50", Dialect::Comma),
            ("1,234.5", Dialect::Comma),
            ("18.50", Dialect::Semicolon),
            ("1.234,5", Dialect::Semicolon),
            ("1,2,3", Dialect::Semicolon),
            ("1e3", Dialect::Comma),
            ("+1", Dialect::Comma),
        ] {
            assert!(read(text, dialect).is_err(), "{text} in {dialect}");
        }
    }

    proptest! {
        /// A guard that was put on is the guard that is taken off, whatever the text.
        #[test]
        fn what_is_guarded_is_read_back(text in "[-'=+@\t\ra|b ]{0,6}") {
            let cell = guarded(&text);
            prop_assert!(!cell.starts_with(FORMULA));
            prop_assert_eq!(unguarded(&cell), text);
        }

        #[test]
        fn a_list_is_read_back(
            texts in prop::collection::vec("[-'=|a,;][-'=| a,;]{0,5}", 1..4),
            semicolon: bool,
        ) {
            let dialect = if semicolon { Dialect::Semicolon } else { Dialect::Comma };
            let texts: Vec<String> = texts.iter().map(|t| t.trim().to_owned()).collect();
            prop_assume!(texts.iter().all(|text| !text.is_empty()));
            let cell = Cell::List(List::Texts);
            let shown = show(cell, &json!(texts), dialect);
            prop_assert!(!shown.starts_with(FORMULA));
            prop_assert_eq!(read(cell, &shown, dialect), Ok(json!(texts)));
        }
    }
}
