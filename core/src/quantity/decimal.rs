//! Decimals on the wire: written as strings, read from strings or numbers, never with binary noise.
//!
//! Use it on a field as `#[serde(with = "parings_core::quantity::decimal")]`.
//!
//! A JSON number reaches a program as a binary float. Up to 15 significant digits the shortest
//! decimal that reads back as the same float is the one that was typed (IEEE 754 binary64), so
//! `0.1` is exactly 0.1. A number with more digits is refused: as a string it keeps all 28.

use std::fmt;

use rust_decimal::Decimal;
use serde::{Deserializer, Serializer, de};

use super::{QuantityError, cut};

/// Digits that a binary64 float carries from decimal and back unchanged.
const FLOAT_DIGITS: usize = 15;

/// Reads a plain decimal: digits, an optional leading minus, an optional point with digits on both
/// sides. No exponent, plus sign, separator or blank. Every digit is kept.
///
/// # Errors
/// [`QuantityError::NotANumber`] for any other text, and for more digits than can be kept exactly.
///
/// ```
/// use parings_core::quantity::decimal;
///
/// assert_eq!(decimal::parse("18.50").unwrap().to_string(), "18.50");
/// assert!(decimal::parse("18,50").is_err());
/// ```
pub fn parse(text: &str) -> Result<Decimal, QuantityError> {
    let refused = || QuantityError::NotANumber { text: cut(text) };
    let digits = |part: &str| !part.is_empty() && part.bytes().all(|b| b.is_ascii_digit());
    let unsigned = text.strip_prefix('-').unwrap_or(text);
    let shaped = match unsigned.split_once('.') {
        Some((whole, fraction)) => digits(whole) && digits(fraction),
        None => digits(unsigned),
    };
    if !shaped {
        return Err(refused());
    }
    Decimal::from_str_exact(text).map(unsigned_zero).map_err(|_| refused())
}

/// Zero without a sign, so that "-0" is not shown to anybody.
pub(super) fn unsigned_zero(value: Decimal) -> Decimal {
    if value.is_zero() { value.abs() } else { value }
}

/// Writes a decimal as a string, with the places it has.
///
/// # Errors
/// Only those of the serializer.
pub fn serialize<S: Serializer>(value: &Decimal, serializer: S) -> Result<S::Ok, S::Error> {
    serializer.collect_str(value)
}

/// Reads a decimal from a string or a number.
///
/// # Errors
/// A sentence that says what was refused and what to send instead.
pub fn deserialize<'de, D: Deserializer<'de>>(deserializer: D) -> Result<Decimal, D::Error> {
    deserializer.deserialize_any(Reader)
}

struct Reader;

impl de::Visitor<'_> for Reader {
    type Value = Decimal;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("a decimal number, as a string such as \"18.5\" or as a number")
    }

    fn visit_str<E: de::Error>(self, text: &str) -> Result<Decimal, E> {
        parse(text).map_err(E::custom)
    }

    fn visit_i64<E: de::Error>(self, value: i64) -> Result<Decimal, E> {
        Ok(value.into())
    }

    fn visit_u64<E: de::Error>(self, value: u64) -> Result<Decimal, E> {
        Ok(value.into())
    }

    fn visit_f64<E: de::Error>(self, value: f64) -> Result<Decimal, E> {
        let text = value.to_string();
        let significant = text.replace(['-', '.'], "");
        // Zeros after a point do not survive `to_string`; those before it stand for size alone.
        if significant.trim_matches('0').len() > FLOAT_DIGITS {
            return Err(E::custom(QuantityError::Imprecise { text: cut(&text) }));
        }
        parse(&text).map_err(E::custom)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;
    use serde::{Deserialize, Serialize};

    #[derive(Debug, PartialEq, Serialize, Deserialize)]
    #[serde(transparent)]
    struct Wire(#[serde(with = "super")] Decimal);

    fn read(json: &str) -> Result<String, String> {
        serde_json::from_str::<Wire>(json).map(|w| w.0.to_string()).map_err(|e| e.to_string())
    }

    #[test]
    fn strings_and_numbers_are_read_without_noise() {
        // The decimals are their own reference: what was typed must come back.
        for (json, kept) in [
            ("0.1", "0.1"),
            ("\"0.1\"", "0.1"),
            ("\"18.50\"", "18.50"),
            ("18.50", "18.5"),
            ("3", "3"),
            ("-7", "-7"),
            ("-0.0", "0"),
            ("\"-0\"", "0"),
            ("1e3", "1000"),
            ("0.000001", "0.000001"),
            ("123456.789012345", "123456.789012345"),
            ("\"1234567890.123456789012345678\"", "1234567890.123456789012345678"),
        ] {
            assert_eq!(read(json).as_deref(), Ok(kept), "{json}");
        }
    }

    #[test]
    fn what_cannot_be_kept_exactly_is_refused_in_words() {
        for (json, part) in [
            ("\"\"", "not a decimal number"),
            ("\"1e3\"", "not a decimal number"),
            ("\"+1\"", "not a decimal number"),
            ("\"1_000\"", "not a decimal number"),
            ("\"1,5\"", "not a decimal number"),
            ("\".5\"", "not a decimal number"),
            ("\"5.\"", "not a decimal number"),
            ("\" 5\"", "not a decimal number"),
            ("\"٣\"", "not a decimal number"),
            ("\"NaN\"", "not a decimal number"),
            ("\"0.00000000000000000000000000001\"", "28 digits at most"),
            ("\"100000000000000000000000000000\"", "28 digits at most"),
            ("1e300", "28 digits at most"),
            ("0.30000000000000004", "send it as a string"),
            ("12345678901234567890123", "send it as a string"),
            ("null", "a decimal number, as a string"),
            ("[1]", "a decimal number, as a string"),
        ] {
            let error = read(json).expect_err(json);
            assert!(error.contains(part), "{json}: {error}");
        }
    }

    proptest! {
        #[test]
        fn a_number_of_fifteen_digits_is_read_as_it_was_typed(
            digits in -999_999_999_999_999_i64..=999_999_999_999_999, scale in 0_u32..=12,
        ) {
            let typed = Decimal::new(digits, scale);
            let number: Wire = serde_json::from_str(&typed.to_string()).unwrap();
            let string: Wire = serde_json::from_str(&format!("\"{typed}\"")).unwrap();
            prop_assert_eq!(number.0, typed);
            prop_assert_eq!(string.0, typed);
            let sent = serde_json::to_string(&string).unwrap();
            prop_assert_eq!(sent, format!("\"{}\"", unsigned_zero(typed)));
        }
    }
}
