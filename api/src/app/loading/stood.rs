//! What stands of a store before nights are loaded.

use std::collections::{BTreeMap, BTreeSet};

use chrono::{DateTime, Utc};
use diesel_async::AsyncPgConnection;
use parings_core::calendar::BusinessDate;
use parings_core::ids::{EntryId, ItemId};
use parings_core::night::{Count, Entry};
use parings_core::tally::{DayFacts, ItemSpan};

use super::{NightFacts, Place, Refused, StoreFacts, Versions};
use crate::app::checks::NIGHTS;
use crate::app::revisions::{self, Revision};
use crate::app::spans::{Closing, Nights};
use crate::app::{tallying, transfers};
use crate::db;
use crate::db::tallies::ItemSpanRow;
use crate::error::AppError;

/// What stands around the nights that are loaded.
#[derive(Default)]
pub struct Stood {
    /// What is tallied, from the counts before to the counts after.
    pub nights: Nights,
    /// The moments whose reference data nights are tallied with.
    pub pins: BTreeMap<BusinessDate, DateTime<Utc>>,
    /// The count of each item before the first night.
    pub last: BTreeMap<ItemId, Closing>,
    /// The date of the last count after the last night that a span may reach to.
    pub until: Option<BusinessDate>,
    /// The spans of each item before, the newest first.
    pub past: BTreeMap<ItemId, Vec<(BusinessDate, ItemSpan)>>,
    /// The counts before, the newest first.
    pub before: Vec<(BusinessDate, Count)>,
    /// Of the nights that are loaded, those that have facts.
    pub facts: BTreeMap<BusinessDate, StoodNight>,
    /// The spans that end on the first night or later.
    pub spans: Vec<ItemSpanRow>,
}

/// A night that has facts already.
#[derive(Default)]
pub struct StoodNight {
    /// They.
    pub facts: DayFacts,
    /// The revision of the count in force.
    pub in_force: Option<i32>,
    /// Every revision of its count.
    pub revisions: Vec<Revision>,
}

/// Reads it, as head office.
///
/// # Errors
/// When the database cannot be reached.
pub async fn read(
    conn: &mut AsyncPgConnection,
    versions: &Versions,
    facts: &StoreFacts,
    known: DateTime<Utc>,
) -> Result<Stood, AppError> {
    let store = &facts.store;
    let pins: BTreeMap<_, _> = db::tallies::pins(conn, store).await?.into_iter().collect();
    let (Some(first), Some(last)) = (facts.nights.first(), facts.nights.last()) else {
        return Ok(Stood::default());
    };
    let Some(reference) = versions.of(store, last.date, known)?.filter(|_| !pins.is_empty()) else {
        return Ok(Stood { pins, ..Stood::default() });
    };
    let (first, last) = (first.date, last.date);
    let items: Vec<&str> = reference.catalog.items.keys().map(ItemId::as_str).collect();
    let before = tallying::by_item(db::tallies::counts_before(conn, store, first, &items).await?)?;
    let after = tallying::by_item(db::tallies::counts_after(conn, store, last, &items).await?)?;
    let from = before.values().map(|(on, _)| *on).min().unwrap_or(first.pred());
    let until = after.values().map(|(on, _)| *on).max();
    let nights = Nights::read(conn, store, from, until.unwrap_or(last)).await?;

    let mut past: BTreeMap<ItemId, Vec<(BusinessDate, ItemSpan)>> = BTreeMap::new();
    for row in db::tallies::spans_before(conn, store, first.plus_days(-NIGHTS), first).await? {
        let date = row.date();
        let (item, span) = row.into_parts()?;
        past.entry(item).or_default().push((date, span));
    }
    let counts = db::checks::counts_in_force(conn, store, first.plus_days(-NIGHTS), first).await?;
    let mut stood = BTreeMap::new();
    for NightFacts { date, .. } in facts.nights.iter().filter(|n| pins.contains_key(&n.date)) {
        let (facts, in_force) = db::nights::facts(conn, store, *date, db::nights::ever()).await?;
        let revisions = revisions::of_night(conn, store, *date).await?;
        stood.insert(*date, StoodNight { facts, in_force, revisions });
    }
    Ok(Stood {
        nights,
        pins,
        last: before,
        until,
        past,
        before: counts.into_iter().map(|row| (row.business_date.into(), row.body.0)).collect(),
        facts: stood,
        spans: db::tallies::spans_from(conn, store, first, &items).await?,
    })
}

/// What is refused because something else is on record: ids that were used, transfers that name no
/// store, months that have no place yet.
///
/// # Errors
/// When the database cannot be reached.
pub async fn refused(
    conn: &mut AsyncPgConnection,
    facts: &StoreFacts,
    known: DateTime<Utc>,
) -> Result<Vec<Refused>, AppError> {
    let mut refused = Vec::new();
    let mut refuse = |date, at, says: String| {
        refused.push(Refused { store: facts.store.clone(), date, at, says });
    };
    let entries = || facts.nights.iter().flat_map(|night| &night.entries);
    let ids: Vec<_> = entries().map(|fact| fact.what.id.0).collect();
    let mut taken: BTreeSet<EntryId> =
        db::entries::taken(conn, &ids).await?.into_iter().map(EntryId).collect();
    let batches = facts.nights.iter().flat_map(|night| &night.till);
    let batches: Vec<&str> = batches.map(|fact| fact.what.id.as_str()).collect();
    let mut batches_taken = db::till::taken(conn, &facts.store, &batches).await?;
    for night in &facts.nights {
        for (n, fact) in night.entries.iter().enumerate() {
            // The first of two with one id is taken, and the second is not.
            if !taken.insert(fact.what.id) {
                refuse(night.date, Place::Entry(n, "/id".into()), "this id was used before".into());
            }
            let one: &[Entry] = std::slice::from_ref(&fact.what);
            for fault in transfers::faults(conn, known, night.date, one, "").await? {
                let at = fault.pointer.trim_start_matches("/0").to_owned();
                refuse(night.date, Place::Entry(n, at), fault.detail);
            }
        }
        for (n, fact) in night.till.iter().enumerate() {
            if !batches_taken.insert(fact.what.id.clone()) {
                let says = "the store has another batch under this id".to_owned();
                refuse(night.date, Place::Till(n, "/batch_id".into()), says);
            }
        }
    }
    Ok(refused)
}
