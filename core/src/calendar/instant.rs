//! Instants on the wire: RFC 3339 with an offset, and nothing looser.
//!
//! Use it on a field as `#[serde(with = "parings_core::calendar::instant")]`. Any offset is
//! understood and the instant is kept in UTC.

use chrono::{DateTime, SecondsFormat, Utc};
use serde::{Deserialize, Deserializer, Serializer, de};

use super::{CalendarError, cut};

/// Reads an instant from its text (RFC 3339).
///
/// # Errors
/// [`CalendarError::NotAnInstant`], also where the offset is missing: a wall time alone says
/// nothing on a night when clocks change.
///
/// ```
/// use parings_core::calendar::instant;
///
/// let there = instant::parse("1996-12-19T16:39:57-08:00").unwrap();
/// assert_eq!(instant::parse("1996-12-20T00:39:57Z").unwrap(), there);
/// assert!(instant::parse("1996-12-19T16:39:57").is_err());
/// ```
pub fn parse(text: &str) -> Result<DateTime<Utc>, CalendarError> {
    DateTime::parse_from_rfc3339(text)
        .map(|at| at.to_utc())
        .map_err(|_| CalendarError::NotAnInstant { text: cut(text) })
}

/// Writes an instant in UTC with a `Z` and as many fractional digits as it needs.
///
/// # Errors
/// Only those of the serializer.
pub fn serialize<S: Serializer>(at: &DateTime<Utc>, serializer: S) -> Result<S::Ok, S::Error> {
    serializer.serialize_str(&at.to_rfc3339_opts(SecondsFormat::AutoSi, true))
}

/// Reads an instant from a string.
///
/// # Errors
/// A sentence that says what was refused and what to send instead.
pub fn deserialize<'de, D: Deserializer<'de>>(deserializer: D) -> Result<DateTime<Utc>, D::Error> {
    parse(&String::deserialize(deserializer)?).map_err(de::Error::custom)
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde::Serialize;

    #[derive(Serialize, Deserialize)]
    #[serde(transparent)]
    struct Wire(#[serde(with = "super")] DateTime<Utc>);

    #[test]
    fn instants_are_those_of_rfc_3339() {
        // RFC 3339, sections 5.6 and 5.8 (from memory).
        for (good, utc) in [
            ("1985-04-12T23:20:50.52Z", "1985-04-12T23:20:50.520Z"),
            ("1996-12-19T16:39:57-08:00", "1996-12-20T00:39:57Z"),
            ("1990-12-31T23:59:60Z", "1990-12-31T23:59:60Z"),
            ("1990-12-31T15:59:60-08:00", "1990-12-31T23:59:60Z"),
            ("1937-01-01T12:00:27.87+00:20", "1937-01-01T11:40:27.870Z"),
        ] {
            let wire: Wire = serde_json::from_str(&format!("\"{good}\"")).expect(good);
            assert_eq!(serde_json::to_string(&wire).unwrap(), format!("\"{utc}\""));
        }
        for bad in [
            "1985-04-12T23:20:50",
            "1985-04-12",
            "1985-4-12T23:20:50Z",
            "2023-02-29T00:00:00Z",
            "2024-01-01T24:00:00Z",
            "2024-01-01T00:00:00+24:00",
            "2024-W01-1T00:00:00Z",
        ] {
            let error = serde_json::from_str::<Wire>(&format!("\"{bad}\"")).err().expect(bad);
            assert!(error.to_string().contains("use RFC 3339 with an offset"), "{error}");
        }
    }
}
