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
use parings_core::night::Count;
use parings_core::quantity::Tallied;
use parings_core::tally::{Counted, Day, DayFacts, ItemSpan, day};

use crate::app::revisions::Revision;
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

/// What was read of a night, and of what surrounds it, before a change of it is saved: its tallies are
/// worked out with that, and nothing is read twice. It holds under the lock of the store.
pub struct Around {
    /// The moment whose reference data it was read with.
    pub known_at: DateTime<Utc>,
    /// The catalogue in force on the date, with the store, as known then.
    pub catalog: Arc<Catalog>,
    /// The facts of the date; see [`Around::now_stands`].
    pub facts: DayFacts,
    /// The revision of the count among them.
    pub revision: Option<i32>,
    /// What they add up to with a count that came and nothing left out.
    pub day: Option<Day>,
    /// What spans that end on the date are made with.
    pub ending: Ending,
    /// The counts before.
    pub before: Before,
    /// Every revision of the night, where they are known without reading them again.
    pub revisions: Option<Vec<Revision>>,
}

impl Around {
    /// Another count is in force from now on, or none has come to be.
    pub fn now_stands(&mut self, accepted: Option<(i32, &Count, BTreeSet<ItemId>)>) {
        match accepted {
            None => self.day = None,
            Some((revision, count, left_out)) => {
                // It was added up with everything.
                self.day = self.day.take().filter(|_| left_out.is_empty());
                self.facts.count = Some(count.clone());
                self.facts.left_out = left_out;
                self.revision = Some(revision);
            }
        }
    }

    fn night(&mut self, store: &StoreId, date: BusinessDate) -> Result<Night, AppError> {
        let day = match self.day.take() {
            Some(day) => day,
            None => tally(&self.catalog, store, date, &self.facts)?,
        };
        let (known_at, catalog) = (self.known_at, Arc::clone(&self.catalog));
        let (facts, revision) = (std::mem::take(&mut self.facts), self.revision);
        Ok(Night { known_at, catalog, facts, revision, day })
    }
}

/// The last counts of items before a date, as far as they were asked for.
#[derive(Default)]
pub struct Before(BTreeMap<ItemId, Option<Closing>>);

impl Before {
    /// Reads those that were not asked for yet.
    ///
    /// # Errors
    /// When the database cannot be reached.
    pub async fn ask(
        &mut self,
        conn: &mut AsyncPgConnection,
        store: &StoreId,
        date: BusinessDate,
        items: impl Iterator<Item = &ItemId>,
    ) -> Result<(), AppError> {
        let new: Vec<&ItemId> = items.filter(|item| !self.0.contains_key(*item)).collect();
        if new.is_empty() {
            return Ok(());
        }
        let codes: Vec<&str> = new.iter().map(|item| item.as_str()).collect();
        let found = by_item(db::tallies::counts_before(conn, store, date, &codes).await?)?;
        self.0.extend(new.into_iter().map(|item| (item.clone(), found.get(item).copied())));
        Ok(())
    }

    /// The last count of an item that was asked for.
    pub fn of(&self, item: &ItemId) -> Option<Closing> {
        self.0.get(item).copied().flatten()
    }
}

/// A night that was worked out again, with the spans that it touched.
pub struct Worked {
    /// The night.
    pub night: Night,
    /// The spans that end with its count, and when another night's change last restated each.
    pub spans: Ended,
    /// The spans that were restated.
    pub restated: Vec<SpanEnd>,
}

/// Works out again what the facts of a store's date touch. The rules do it, whoever acts: from here on
/// nobody acts but the rules, for this store, until the transaction ends or the caller's part is taken
/// anew.
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
) -> Result<Worked, AppError> {
    db::acting::act_for_rules(conn, &standing.store).await?;
    db::tallies::lock(conn, &standing.store).await?;
    work_out(deps, conn, now, standing, date, pin, None).await
}

/// The same for who holds the lock of the store, and has read `around` under it.
///
/// # Errors
/// When facts and reference data do not fit, or the database cannot be reached.
pub async fn recompute_read(
    deps: &Deps,
    conn: &mut AsyncPgConnection,
    now: DateTime<Utc>,
    standing: &Standing,
    date: BusinessDate,
    around: Option<Around>,
) -> Result<Worked, AppError> {
    db::acting::act_for_rules(conn, &standing.store).await?;
    work_out(deps, conn, now, standing, date, Pin::Keep, around).await
}

async fn work_out(
    deps: &Deps,
    conn: &mut AsyncPgConnection,
    now: DateTime<Utc>,
    standing: &Standing,
    date: BusinessDate,
    pin: Pin<'_>,
    around: Option<Around>,
) -> Result<Worked, AppError> {
    let store = &standing.store;
    let was = db::tallies::pin(conn, store, date).await?;
    let known_at = match (pin, was) {
        (Pin::Keep, Some(was)) => was,
        (Pin::Keep, None) => match &around {
            Some(around) => around.known_at,
            None => db::reference::known(conn, now).await?,
        },
        (Pin::Renew(at, _), was) => was.map_or(at, |was| was.max(at)),
    };
    let mut around = around.filter(|around| around.known_at == known_at);
    let night = match &mut around {
        Some(around) => around.night(store, date)?,
        None => Night::read(deps, conn, store, date, known_at).await?,
    };
    let key = Key { standing, date, known_at };
    if was != Some(known_at) {
        db::known::add_pin(conn, key, now, pin.reason()).await?;
    }
    let mut touched: BTreeSet<ItemId> = night.day.items.keys().cloned().collect();
    if was.is_some() {
        let before = db::tallies::item_days(conn, store, date.pred(), date).await?;
        touched.extend(before.into_iter().map(|(_, item, _)| item));
        db::tallies::drop_day(conn, store, date).await?;
    }
    db::tallies::add_day(conn, key, night.revision, &night.day).await?;
    let (ending, before) = around.map(|around| (around.ending, around.before)).unzip();
    let before = before.unwrap_or_default();
    let (spans, restated) =
        respan(deps, conn, now, key, &night.day, touched, (ending, before)).await?;
    Ok(Worked { night, spans, restated })
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

/// Spans by their items, and when another night's change last restated each.
pub type Ended = BTreeMap<ItemId, (ItemSpan, Option<DateTime<Utc>>)>;

async fn respan(
    deps: &Deps,
    conn: &mut AsyncPgConnection,
    now: DateTime<Utc>,
    key: Key<'_>,
    today: &Day,
    mut touched: BTreeSet<ItemId>,
    (ending, mut before): (Option<Ending>, Before),
) -> Result<(Ended, Vec<SpanEnd>), AppError> {
    let (store, date) = (&key.standing.store, key.date);
    let old = db::tallies::spans_touching(conn, store, (date, date)).await?;
    touched.extend(old.iter().map(ItemSpanRow::item).collect::<Result<Vec<_>, _>>()?);
    before.ask(conn, store, date, touched.iter()).await?;
    let items: Vec<&str> = touched.iter().map(ItemId::as_str).collect();
    let after = by_item(db::tallies::counts_after(conn, store, date, &items).await?)?;
    let mut spans = Vec::new();
    for item in &touched {
        let here = today.items.get(item).and_then(|d| d.count).map(|count| (date, count));
        let (prior, next) = (before.of(item), after.get(item).copied());
        spans.extend(prior.zip(here).map(|(from, to)| (item, from, to)));
        spans.extend(here.or(prior).zip(next).map(|(from, to)| (item, from, to)));
    }
    let first = spans.iter().map(|(_, (from, _), _)| *from).min().unwrap_or(date);
    let last = spans.iter().map(|(_, _, (to, _))| *to).max().unwrap_or(date);
    let nights = Nights::around(conn, store, (first, last), (date, today)).await?;
    let mut endings: BTreeMap<BusinessDate, Ending> =
        ending.into_iter().map(|ending| (date, ending)).collect();
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
    let (mut rows, mut ended, mut changed) = (Vec::new(), Ended::new(), Vec::new());
    for (item, from, to) in spans {
        let ending = &endings[&to.0];
        let made = nights.span(ending, item, from, to);
        let was = old.iter().find(|row| row.is_of(item, to.0));
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
        if to.0 == date {
            ended.insert(item.clone(), (made, restated));
        }
    }
    if !old.is_empty() {
        db::tallies::drop_spans_touching(conn, store, (date, date)).await?;
    }
    db::tallies::add_spans(conn, &rows).await?;
    let mut elsewhere: BTreeSet<_> = old.iter().chain(&rows).map(ItemSpanRow::date).collect();
    elsewhere.remove(&date);
    db::tallies::put_anew(conn, store, &elsewhere).await?;
    Ok((ended, changed))
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
