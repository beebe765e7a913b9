//! What a new network starts with: settings, waste reasons, channels, dayparts, formats and places.
//!
//! Every value is common practice in the trade and has no source: a setting to begin with, which
//! head office changes like any other document. The title and the currency only hold a place. A
//! loss that the standard yield already holds (normal trim) is on the list so that recording it as
//! waste can be refused by name.
//!
//! The values are in force, and count as known, from the first day of 2000: before any night that
//! a network records, so that a night entered late finds them too.

use anyhow::Context;
use chrono::{DateTime, TimeZone, Utc};
use diesel_async::{AsyncConnection, AsyncPgConnection};
use parings_core::calendar::BusinessDate;
use parings_core::catalog::{Catalog, Document, Kind};
use serde_json::{Map, Value};

use crate::db;
use crate::db::reference::NewVersion;

/// The documents by kind, those that others name first.
const FILES: &[(Kind, &str)] = &[
    (Kind::Settings, include_str!("settings.json")),
    (Kind::Format, include_str!("formats.json")),
    (Kind::Place, include_str!("places.json")),
    (Kind::Dayparts, include_str!("dayparts.json")),
    (Kind::Channel, include_str!("channels.json")),
    (Kind::Reason, include_str!("reasons.json")),
];

fn first_moment() -> DateTime<Utc> {
    Utc.with_ymd_and_hms(2000, 1, 1, 0, 0, 0).earliest().unwrap_or_default()
}

/// The documents with their codes.
///
/// # Errors
/// When a file is not what it should be, which a test rules out.
pub fn documents() -> anyhow::Result<Vec<(String, Document)>> {
    let mut all = Vec::new();
    for (kind, text) in FILES {
        let file: Map<String, Value> = serde_json::from_str(text).context(kind.word())?;
        for (code, body) in file {
            let document = kind.read(&body).with_context(|| format!("{} {code}", kind.word()))?;
            all.push((code, document));
        }
    }
    Ok(all)
}

/// Puts the starting values in force where nothing is on record yet; answers with how many there
/// were. Once anything is on record it does nothing, so it can be repeated.
///
/// # Errors
/// When the owner cannot connect or may not write.
pub async fn put(owner_url: &str) -> anyhow::Result<usize> {
    let mut conn = AsyncPgConnection::establish(owner_url).await.context("connect as the owner")?;
    let documents = documents()?;
    let at = first_moment();
    conn.transaction::<_, anyhow::Error, _>(async |conn| {
        db::reference::lock(conn, || at).await?;
        if db::reference::is_begun(conn).await? {
            return Ok(0);
        }
        for (code, document) in &documents {
            let new = NewVersion {
                kind: document.kind(),
                code,
                valid_from: BusinessDate::from(at.date_naive()),
                recorded_at: at,
                recorded_by: None,
                reason: None,
                retired: false,
                document,
            };
            db::reference::add(conn, &new).await?;
        }
        Ok(documents.len())
    })
    .await
    .context("put the starting values in force")
}

/// The starting values as a catalogue.
///
/// # Errors
/// As [`documents`].
pub fn catalog() -> anyhow::Result<Catalog> {
    Ok(Catalog::from_documents(documents()?)?)
}

#[cfg(test)]
mod tests {
    use parings_core::calendar::CutOff;

    use super::*;

    #[test]
    fn the_starting_values_hold_together() {
        let all = catalog().unwrap();
        for (code, document) in documents().unwrap() {
            assert_eq!(all.flaws(&code, &document), [], "{} {code}", document.kind().word());
        }
        assert!(all.settings.is_some());
    }

    #[test]
    fn every_minute_of_the_day_is_in_a_daypart() {
        let set = catalog().unwrap().dayparts.into_values().next().unwrap();
        for minute in 0..24 * 60 {
            let time = chrono::NaiveTime::from_hms_opt(minute / 60, minute % 60, 0).unwrap();
            assert!(set.at(time).is_some(), "{time}");
        }
        // The late daypart ends where the business day turns.
        assert_eq!(set.dayparts.last().unwrap().hours.to(), CutOff::default().time());
    }

    #[test]
    fn safety_discards_and_trim_are_told_apart() {
        let reasons = catalog().unwrap().reasons;
        let safe: Vec<_> =
            reasons.iter().filter(|(_, r)| r.safety).map(|(c, _)| c.as_str()).collect();
        assert_eq!(safe, ["contamination", "recall", "temperature"]);
        let held: Vec<_> =
            reasons.iter().filter(|(_, r)| r.in_standard_yield).map(|(c, _)| c.as_str()).collect();
        assert_eq!(held, ["normal-trim"]);
    }
}
