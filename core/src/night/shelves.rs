//! What a count said of its shelves, as few bytes. The checks of a night look at those of four weeks;
//! taking as many documents apart would cost more than everything else about a night.
//!
//! Everything is whole numbers ([`crate::bytes`]), after the version of this form: first the codes and
//! units that lines name, each once, in the order in which they come; then the lines, each as what
//! differs from the one before: the places of its item, place, stage, pan and unit among them (0 for
//! none), the digits of its amount, and how many of those come after the point.

use std::collections::HashMap;
use std::str::FromStr;

use rust_decimal::Decimal;

use super::CountLine;
use crate::bytes::{Reader, Unreadable, Writer};
use crate::catalog::{Typed, UnitName};
use crate::ids::CodeError;

/// The version of the form in which shelves are written.
const VERSION: u64 = 1;

/// Packs the lines of a count, in their order. Left out is what nothing later is compared with: what is
/// written on a pan, and when it must be thrown away.
///
/// ```
/// use parings_core::night::{Count, shelves};
/// let said = r#"{"complete":true,"lines":[
///     {"item":"potato","place":"dry-store","quantity":{"value":"7","unit":"sack"}}]}"#;
/// let count: Count = serde_json::from_str(said).unwrap();
/// assert_eq!(shelves::unpack(&shelves::pack(&count.lines)), Ok(count.lines));
/// ```
pub fn pack(lines: &[CountLine]) -> Vec<u8> {
    let mut words = Words::default();
    let lines: Vec<[i64; 7]> = lines.iter().map(|line| numbers(line, &mut words)).collect();
    let mut out = Writer::default();
    out.count(VERSION);
    out.count(words.all.len() as u64);
    for word in &words.all {
        out.text(word);
    }
    out.count(lines.len() as u64);
    let mut before = [0; 7];
    for line in lines {
        out.numbers(&std::array::from_fn::<i64, 7, _>(|n| line[n] - before[n]));
        before = line;
    }
    out.bytes
}

/// Codes and units that were named, each with its place, from 1.
#[derive(Default)]
struct Words {
    all: Vec<String>,
    places: HashMap<String, i64>,
}

impl Words {
    fn place(&mut self, word: &str) -> i64 {
        if let Some(known) = self.places.get(word) {
            return *known;
        }
        self.all.push(word.to_owned());
        let place = self.all.len() as i64;
        self.places.insert(word.to_owned(), place);
        place
    }
}

fn numbers(line: &CountLine, words: &mut Words) -> [i64; 7] {
    let amount = line.quantity.value().normalize();
    [
        words.place(line.item.as_str()),
        words.place(line.place.as_str()),
        line.stage.as_ref().map_or(0, |stage| words.place(stage.as_str())),
        line.pan.as_ref().map_or(0, |pan| words.place(pan.as_str())),
        words.place(&line.quantity.unit().to_string()),
        // At most ten millions with six decimals: thirteen digits.
        amount.mantissa() as i64,
        amount.scale().into(),
    ]
}

/// Reads lines that were packed.
///
/// # Errors
/// [`Unreadable`] when [`pack`] did not write them.
pub fn unpack(bytes: &[u8]) -> Result<Vec<CountLine>, Unreadable> {
    let mut reader = Reader::new(bytes);
    match reader.count()? {
        VERSION => {}
        other => return Err(Unreadable::Version(other)),
    }
    let words: Vec<&str> = (0..reader.count()?).map(|_| reader.text()).collect::<Result<_, _>>()?;
    let mut lines: Vec<CountLine> = Vec::new();
    let mut said = [0_i64; 7];
    for _ in 0..reader.count()? {
        let differs: [i64; 7] = reader.numbers()?;
        said = std::array::from_fn(|n| said[n].wrapping_add(differs[n]));
        let line = line(&words, said, lines.last())?;
        lines.push(line);
    }
    reader.end()?;
    Ok(lines)
}

/// Reads a line. Most stand in the place of the line before, which is not read again.
fn line(
    words: &[&str],
    [item, place, stage, pan, unit, digits, decimals]: [i64; 7],
    before: Option<&CountLine>,
) -> Result<CountLine, Unreadable> {
    let word = |place: i64| {
        let place = usize::try_from(place).ok().and_then(|place| place.checked_sub(1));
        place.and_then(|place| words.get(place)).copied().ok_or(Unreadable::Codes)
    };
    let maybe = |place: i64| (place != 0).then(|| word(place)).transpose();
    let decimals = u32::try_from(decimals).map_err(|_| Unreadable::Field)?;
    let amount = Decimal::try_from_i128_with_scale(digits.into(), decimals);
    let amount = amount.map_err(|_| Unreadable::Field)?;
    let unit: UnitName = word(unit)?.parse().map_err(|_| Unreadable::Codes)?;
    Ok(CountLine {
        item: code(word(item)?)?,
        place: match before {
            Some(before) if before.place.as_str() == word(place)? => before.place.clone(),
            _ => code(word(place)?)?,
        },
        stage: maybe(stage)?.map(code).transpose()?,
        pan: maybe(pan)?.map(code).transpose()?,
        quantity: Typed::new(amount, unit).map_err(|_| Unreadable::Field)?,
        label: None,
        discard_at: None,
    })
}

fn code<T: FromStr<Err = CodeError>>(word: &str) -> Result<T, Unreadable> {
    word.parse().map_err(|_| Unreadable::Codes)
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::ids::{PanId, StageId};

    fn lines() -> impl Strategy<Value = Vec<CountLine>> {
        let code = |names: &'static [&'static str]| prop::sample::select(names);
        let maybe = |names| prop::option::of(code(names));
        let line = (
            code(&["potato", "curd", "oil", "chilli-sauce-4l"]),
            code(&["dry-store", "walk-in", "line"]),
            maybe(&["chill", "first-fry"]),
            maybe(&["deep-pan", "third"]),
            code(&["kg", "lb", "sack", "each", "ml"]),
            (0..=10_000_000_000_000_i64, 0..=6_u32),
        );
        let line = line.prop_map(|(item, place, stage, pan, unit, (digits, decimals))| CountLine {
            item: item.parse().unwrap(),
            place: place.parse().unwrap(),
            stage: stage.map(|code| StageId::new(code).unwrap()),
            pan: pan.map(|code| PanId::new(code).unwrap()),
            quantity: Typed::new(
                Decimal::new(digits.min(10_i64.pow(7 + decimals)), decimals),
                unit.parse().unwrap(),
            )
            .unwrap(),
            label: None,
            discard_at: None,
        });
        prop::collection::vec(line, 0..60)
    }

    proptest! {
        #[test]
        fn every_line_is_read_as_it_was_packed(lines in lines()) {
            prop_assert_eq!(unpack(&pack(&lines)), Ok(lines));
        }

        #[test]
        fn bytes_of_nobody_are_refused_and_harm_nothing(bytes in prop::collection::vec(any::<u8>(), 0..80)) {
            // Whatever they are, this ends; and what can be read is packed to something that reads the same.
            if let Ok(lines) = unpack(&bytes) {
                prop_assert_eq!(unpack(&pack(&lines)), Ok(lines));
            }
        }
    }

    /// Bytes of version 1, worked out by hand from the description above; as long as it stands, they are
    /// read.
    #[test]
    fn golden_bytes_of_version_1() {
        let said = r#"[
            {"item":"oil","place":"dry","quantity":{"value":"2.50","unit":"l"},"label":"7"},
            {"item":"ale","place":"dry","stage":"cut","pan":"tub","quantity":{"value":"3","unit":"kg"}}]"#;
        let mut lines: Vec<CountLine> = serde_json::from_str(said).unwrap();
        let bytes = [
            &[1, 7][..],
            &[3],
            b"oil",
            &[3],
            b"dry",
            &[1],
            b"l",
            &[3],
            b"ale",
            &[3],
            b"cut",
            &[3],
            b"tub",
            &[2],
            b"kg",
            // Two lines; of the first all but stage and pan: 1, 2, 3, 25 with 1 decimal, each twice over.
            &[2, 0b111_0011, 2, 4, 6, 50, 2],
            // Item 1 to 4, stage 0 to 5, pan 0 to 6, unit 3 to 7, 25 to 3, 1 decimal to none.
            &[0b111_1101, 6, 10, 12, 8, 43, 1],
        ];
        assert_eq!(pack(&lines), bytes.concat());
        // The label is left out.
        lines[0].label = None;
        assert_eq!(unpack(&bytes.concat()), Ok(lines));
        assert_eq!(unpack(&[2, 0, 0]), Err(Unreadable::Version(2)));
        assert_eq!(unpack(&[1, 0, 0, 0]), Err(Unreadable::Follows));
        assert_eq!(unpack(&[1, 0, 1, 1, 2]), Err(Unreadable::Codes));
    }
}
