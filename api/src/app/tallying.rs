//! From facts to tallies: what a new, amended or withdrawn fact changes is worked out again in the
//! transaction that saves it, under a lock of its store.
//!
//! A change on a date touches the tallies of that date, the span that ends there and the one that
//! starts there, and no other: closings are facts.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use chrono::{DateTime, Utc};
use diesel_async::AsyncPgConnection;
use parings_core::access::Standing;
use parings_core::calendar::BusinessDate;
use parings_core::catalog::{Catalog, Kind, NotFound, Settings, Store};
use parings_core::ids::{ItemId, StoreId};
use parings_core::quantity::Tallied;
use parings_core::tally::{Counted, Day, DayFacts, ItemSpan, day};

use crate::app::spans::{Closing, Ending, Nights};
use crate::app::{Deps, catalog};
use crate::db;
use crate::db::tallies::{CountRow, ItemSpanRow, Key};
use crate::error::AppError;

/// Which reference data a night is worked out again with.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Pin<'a> {
    /// Those it was first tallied with: a change of facts changes nothing else.
    Keep,
    /// Those known at this moment: a restatement, and why. A pin never moves back.
    Renew(DateTime<Utc>, &'a str),
}

impl Pin<'_> {
    fn reason(&self) -> Option<&str> {
        match self {
            Self::Keep => None,
            Self::Renew(_, reason) => Some(reason),
        }
    }
}

/// A span by its item and the date it ends on.
pub type SpanEnd = (ItemId, BusinessDate);

/// A night as its facts stand, with what they add up to.
pub struct Night {
    /// The moment whose reference data it is made with.
    pub known_at: DateTime<Utc>,
    /// The catalogue in force on its date, with the store, as known then.
    pub catalog: Arc<Catalog>,
    /// Its facts.
    pub facts: DayFacts,
    /// The revision of its count.
    pub revision: Option<i32>,
    /// What the facts add up to, without spans.
    pub day: Day,
}

impl Night {
    /// Reads the facts of a store's date and adds them up.
    ///
    /// # Errors
    /// When facts and reference data do not fit, or the database cannot be reached.
    pub async fn read(
        deps: &Deps,
        conn: &mut AsyncPgConnection,
        store: &StoreId,
        date: BusinessDate,
        known_at: DateTime<Utc>,
    ) -> Result<Self, AppError> {
        Self::then(deps, conn, store, date, known_at, db::nights::ever()).await
    }

    /// The same of the facts recorded up to a moment.
    ///
    /// # Errors
    /// When facts and reference data do not fit, or the database cannot be reached.
    pub async fn then(
        deps: &Deps,
        conn: &mut AsyncPgConnection,
        store: &StoreId,
        date: BusinessDate,
        known_at: DateTime<Utc>,
        recorded_by: DateTime<Utc>,
    ) -> Result<Self, AppError> {
        let catalog = catalog::in_force(deps, conn, date, known_at, Some(store)).await?;
        let (facts, revision) = db::nights::facts(conn, store, date, recorded_by).await?;
        let day = tally(&catalog, store, date, &facts)?;
        Ok(Self { known_at, catalog, facts, revision, day })
    }
}

/// Works out again what the facts of a store's date touch, and answers with the night and the spans
/// that were restated. The rules do it, whoever acts: from here on nobody acts but the rules, for this store,
/// until the transaction ends or the caller's part is taken anew.
///
/// # Errors
/// When facts and reference data do not fit, or the database cannot be reached.
pub async fn recompute(
    deps: &Deps,
    conn: &mut AsyncPgConnection,
    now: DateTime<Utc>,
    standing: &Standing,
    date: BusinessDate,
    pin: Pin<'_>,
) -> Result<(Night, Vec<SpanEnd>), AppError> {
    let store = &standing.store;
    db::acting::act_for_rules(conn, store).await?;
    db::tallies::lock(conn, store).await?;
    let was = db::tallies::pin(conn, store, date).await?;
    let known_at = match (pin, was) {
        (Pin::Keep, Some(was)) => was,
        (Pin::Keep, None) => db::reference::known(conn, now).await?,
        (Pin::Renew(at, _), was) => was.map_or(at, |was| was.max(at)),
    };
    let night = Night::read(deps, conn, store, date, known_at).await?;
    let key = Key { standing, date, known_at };
    if was != Some(known_at) {
        db::known::add_pin(conn, key, now, pin.reason()).await?;
    }
    let before = db::tallies::item_days(conn, store, date.pred(), date).await?;
    db::tallies::replace_day(conn, key, night.revision, &night.day).await?;

    let mut touched: BTreeSet<ItemId> = night.day.items.keys().cloned().collect();
    touched.extend(before.into_iter().map(|(_, item, _)| item));
    touched.extend(db::tallies::items_spanning(conn, store, date).await?);
    let restated = respan(deps, conn, now, key, &night.day, &touched).await?;
    Ok((night, restated))
}

/// Adds up the facts of a date under a catalogue that has the store.
///
/// # Errors
/// When facts and reference data do not fit.
pub fn tally(
    catalog: &Catalog,
    store: &StoreId,
    date: BusinessDate,
    facts: &DayFacts,
) -> Result<Day, AppError> {
    let place = in_catalog(catalog, store)?;
    day(facts, catalog, settings(catalog)?, store, place, date)
        .map_err(|e| anyhow::Error::new(e).into())
}

/// The network's settings in a catalogue.
///
/// # Errors
/// 409 when there are none yet.
pub fn settings(catalog: &Catalog) -> Result<&Settings, AppError> {
    catalog.settings.as_ref().ok_or_else(|| {
        AppError::Conflict("the network has no settings in force on that date".to_owned())
    })
}

/// The store's document in a catalogue.
///
/// # Errors
/// 404 when it is not there.
pub fn in_catalog<'a>(catalog: &'a Catalog, store: &StoreId) -> Result<&'a Store, AppError> {
    catalog.stores.get(store).ok_or_else(|| {
        catalog::not_found(NotFound { kind: Kind::Store.word(), code: store.to_string() })
    })
}

async fn respan(
    deps: &Deps,
    conn: &mut AsyncPgConnection,
    now: DateTime<Utc>,
    key: Key<'_>,
    today: &Day,
    touched: &BTreeSet<ItemId>,
) -> Result<Vec<SpanEnd>, AppError> {
    let (store, date) = (&key.standing.store, key.date);
    let items: Vec<&str> = touched.iter().map(ItemId::as_str).collect();
    let before = by_item(db::tallies::counts_before(conn, store, date, &items).await?)?;
    let after = by_item(db::tallies::counts_after(conn, store, date, &items).await?)?;
    let mut spans = Vec::new();
    let mut ends = Vec::new();
    for item in touched {
        let here = today.items.get(item).and_then(|d| d.count).map(|count| (date, count));
        let (prior, next) = (before.get(item).copied(), after.get(item).copied());
        ends.push((item.clone(), date));
        ends.extend(next.map(|(on, _)| (item.clone(), on)));
        spans.extend(prior.zip(here).map(|(from, to)| (item, from, to)));
        spans.extend(here.or(prior).zip(next).map(|(from, to)| (item, from, to)));
    }
    let old = db::tallies::spans_from(conn, store, date, &items).await?;
    let first = spans.iter().map(|(_, (from, _), _)| *from).min().unwrap_or(date);
    let last = spans.iter().map(|(_, _, (to, _))| *to).max().unwrap_or(date);
    let mut nights = Nights::read(conn, store, first, last).await?;
    nights.put(date, today);
    let mut endings: BTreeMap<BusinessDate, Ending> = BTreeMap::new();
    for (_, _, (to, _)) in &spans {
        if !endings.contains_key(to) {
            let pinned = match *to == date {
                true => Some(key.known_at),
                false => db::tallies::pin(conn, store, *to).await?,
            };
            let known_at = pinned.unwrap_or(now);
            let ending = Ending::read(&deps.catalogs, conn, store, *to, known_at).await?;
            endings.insert(*to, ending);
        }
    }
    let mut rows = Vec::new();
    let mut changed = Vec::new();
    for (item, from, to) in spans {
        let ending = &endings[&to.0];
        let made = nights.span(ending, item, from, to);
        let was = old.iter().find(|row| row.item() == item.as_str() && row.date() == to.0);
        let restated = if restated(was, &made)? {
            changed.push((item.clone(), to.0));
            Some(now)
        } else {
            was.and_then(ItemSpanRow::restated_at)
        };
        let stood = ending.standing().filter(|_| to.0 != date);
        let standing = stood.as_ref().unwrap_or(key.standing);
        let there = Key { standing, date: to.0, known_at: ending.known_at };
        rows.push(ItemSpanRow::new(there, item, &made, restated)?);
    }
    db::tallies::replace_spans(conn, store, &ends, &rows).await?;
    Ok(changed)
}

/// A span that had its expected use, and now says something else, is restated.
pub(super) fn restated(was: Option<&ItemSpanRow>, now: &ItemSpan) -> Result<bool, AppError> {
    let Some(row) = was else { return Ok(false) };
    let (_, before) = row.clone().into_parts()?;
    Ok(before.expected.is_some() && before != *now)
}

/// Counts by their items.
///
/// # Errors
/// When a row holds what no rule wrote.
pub fn by_item(rows: Vec<CountRow>) -> Result<BTreeMap<ItemId, Closing>, AppError> {
    rows.into_iter()
        .map(|row| {
            let item = ItemId::new(&row.item_id).map_err(anyhow::Error::new)?;
            let count = Counted {
                closing: Tallied::from_thousandths(row.closing),
                sd: Tallied::from_thousandths(row.closing_sd),
            };
            Ok((item, (row.business_date.into(), count)))
        })
        .collect()
}
