//! From facts to tallies: what a new, amended or withdrawn fact changes is worked out again in the
//! transaction that saves it, under a lock of its store. What is worked out is core's
//! ([`parings_core::tally::Nights`]); here it is read, and kept.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use chrono::{DateTime, Utc};
use diesel_async::AsyncPgConnection;
use parings_core::access::Standing;
use parings_core::calendar::BusinessDate;
use parings_core::catalog::{Catalog, Kind, NotFound, Settings, Store};
use parings_core::ids::{ItemId, StoreId};
use parings_core::night::Count;
use parings_core::tally::{Day, DayFacts, EndedSpan, Ending, Night, RULES, SpanEnd, day};
use parings_core::usage::Samples;

use crate::app::Deps;
use crate::app::ground::catalog;
use crate::app::night::revisions::Revision;
use crate::app::night::stood::{BACK, Beside, Stood};
use crate::db;
use crate::db::tallies::Key;
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

/// A night's facts, with what they add up to.
pub struct Reckoned {
    /// The moment whose reference data it is made with.
    pub known_at: DateTime<Utc>,
    /// The catalogue in force on its date, with the store, as known then.
    pub catalog: Arc<Catalog>,
    /// What was recorded of it.
    pub facts: DayFacts,
    /// The revision of its count.
    pub revision: Option<i32>,
    /// What the facts add up to, without spans.
    pub day: Day,
}

impl Reckoned {
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
    /// The nights around it.
    pub stood: Stood,
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

    fn reckoned(self, store: &StoreId, date: BusinessDate) -> Result<(Reckoned, Ending), AppError> {
        let Self { known_at, catalog, facts, revision, day, ending, .. } = self;
        let day = match day {
            Some(day) => day,
            None => tally(&catalog, store, date, &facts)?,
        };
        Ok((Reckoned { known_at, catalog, facts, revision, day }, ending))
    }
}

/// Spans that end with a night's counts, by their items.
pub type Ended = BTreeMap<ItemId, EndedSpan>;

/// A night that was worked out again, with the spans that it touched.
pub struct Worked {
    /// The night itself, with what its facts add up to.
    pub night: Reckoned,
    /// The spans that end with its count.
    pub spans: Ended,
    /// Portions weighed of each item over the last nights.
    pub samples: BTreeMap<ItemId, Samples>,
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
    let (mut stood, around) = match around {
        Some(mut around) => (std::mem::take(&mut around.stood), Some(around)),
        None => (Stood::around(conn, store, date, BACK).await?, None),
    };
    let was = stood.beside(date).map(|beside| beside.known_at);
    let known_at = match (pin, was) {
        (Pin::Keep, Some(was)) => was,
        (Pin::Keep, None) => match &around {
            Some(around) => around.known_at,
            None => db::reference::known(conn, now).await?,
        },
        (Pin::Renew(at, _), was) => was.map_or(at, |was| was.max(at)),
    };
    let around = around.filter(|around| around.known_at == known_at);
    let (night, ending) = match around {
        Some(around) => {
            let (night, ending) = around.reckoned(store, date)?;
            (night, Some(ending))
        }
        None => (Reckoned::read(deps, conn, store, date, known_at).await?, None),
    };
    if was != Some(known_at) {
        let key = Key { standing, date, known_at };
        db::known::add_pin(conn, key, now, pin.reason()).await?;
    }
    stood.reach(conn, store, date, &night.day).await?;
    let (catalogs, whose, known) = (&deps.catalogs, (store, now), ending.into_iter().collect());
    let Reckoned { known_at, catalog, facts, revision, day } = night;
    stood.say(date, Beside { standing: standing.clone(), known_at, revision, rules: RULES });
    let change = stood.put(conn, catalogs, whose, (date, day), known).await?;
    db::tallies::put(conn, &stood.rows(&change.nights)?).await?;
    let back = i64::from(settings(&catalog)?.sample_nights);
    let samples = samples(conn, store, date, back, &stood).await?;
    let Night { day, spans } = stood.nights.take(date).unwrap_or_default();
    let night = Reckoned { known_at, catalog, facts, revision, day };
    Ok(Worked { night, spans, samples, restated: change.restated })
}

/// Portions weighed of each item over so many nights up to a date, of nights that may have been read.
///
/// # Errors
/// When the database cannot be reached.
pub async fn samples(
    conn: &mut AsyncPgConnection,
    store: &StoreId,
    date: BusinessDate,
    back: i64,
    stood: &Stood,
) -> Result<BTreeMap<ItemId, Samples>, AppError> {
    let after = date.plus_days(-back);
    if back <= BACK {
        return Ok(stood.nights.samples(after, date));
    }
    let stood = Stood::around(conn, store, date, back).await?;
    Ok(stood.nights.samples(after, date))
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
