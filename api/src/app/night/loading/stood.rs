//! What stands of a store before nights are loaded.

use std::collections::{BTreeMap, BTreeSet};

use chrono::{DateTime, Utc};
use diesel_async::AsyncPgConnection;
use parings_core::calendar::BusinessDate;
use parings_core::ids::{EntryId, ItemId};
use parings_core::night::{CountLine, Entry};
use parings_core::tally::DayFacts;

use super::{NightFacts, Place, Refused, StoreFacts, Versions};
use crate::app::night::entries;
use crate::app::night::revisions::{self, Revision};
use crate::app::night::stood::{BACK, Stood};
use crate::db;
use crate::error::AppError;

/// What stands around the nights that are loaded.
#[derive(Default)]
pub struct StoodStore {
    /// What is tallied, from the counts before to the counts after.
    pub tallied: Stood,
    /// The lines of the counts before, the newest first.
    pub before: Vec<(BusinessDate, Vec<CountLine>)>,
    /// Of the nights that are loaded, those that have facts.
    pub facts: BTreeMap<BusinessDate, StoodNight>,
}

/// A night that has facts already.
#[derive(Default)]
pub struct StoodNight {
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
) -> Result<StoodStore, AppError> {
    let store = &facts.store;
    let (Some(first), Some(last)) = (facts.nights.first(), facts.nights.last()) else {
        return Ok(StoodStore::default());
    };
    let (first, last) = (first.date, last.date);
    let Some(reference) = versions.of(store, last, known)? else {
        return Ok(StoodStore::default());
    };
    let back = BACK + first.days_until(last);
    let mut tallied = Stood::around(conn, store, last, back).await?;
    let items: Vec<&str> = reference.catalog.items.keys().map(ItemId::as_str).collect();
    tallied.reach_items(conn, store, (first, last), &items).await?;

    let from = first.plus_days(-BACK);
    let before = db::checks::lines_in_force(conn, store, from, first).await?;
    let mut stood = BTreeMap::new();
    let on_record = |night: &&NightFacts| tallied.beside(night.date).is_some();
    for NightFacts { date, .. } in facts.nights.iter().filter(on_record) {
        let (facts, in_force) = db::nights::facts(conn, store, *date, db::nights::ever()).await?;
        let revisions = revisions::of_night(conn, store, *date).await?;
        stood.insert(*date, StoodNight { facts, in_force, revisions });
    }
    Ok(StoodStore { before, facts: stood, tallied })
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
            for fault in entries::transfers(conn, known, night.date, one, "").await? {
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
