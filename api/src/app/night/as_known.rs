//! Figures as they were known at a moment. Nights that nothing was recorded of since are as they are
//! kept; the others are worked out again in memory from the facts of then, and core joins them to spans
//! as it does everywhere.

use std::collections::{BTreeMap, BTreeSet};

use chrono::{DateTime, TimeDelta, Utc};
use diesel_async::AsyncPgConnection;
use parings_core::access::{Action, Ruling, Standing, Target, can};
use parings_core::calendar::{BusinessDate, DateSpan};
use parings_core::catalog::Network;
use parings_core::ids::{ItemId, StoreId};
use parings_core::tally::{Counted, Day, Night};

use crate::app::night::facts::DAYS_BACK;
use crate::app::night::stood::{self, Stood};
use crate::app::night::tallying::Reckoned;
use crate::app::{Deps, act_as};
use crate::context::{Caller, Ctx};
use crate::db;
use crate::db::known::Touched;
use crate::error::AppError;

/// So many nights at most are worked out again for one answer.
pub const MOST_NIGHTS: usize = 500;
/// So many nights at most may have been touched since.
pub const MOST_TOUCHED: i64 = 5_000;

/// Checks a moment that figures are asked of. `at` is where the request has it.
///
/// # Errors
/// 422 for one that is still to come.
pub fn past(moment: DateTime<Utc>, now: DateTime<Utc>, at: &str) -> Result<(), AppError> {
    if moment > now {
        return Err(AppError::invalid(at, "this moment is still to come"));
    }
    Ok(())
}

/// The moment that an answer is of which is asked of `moment`: that one, or an earlier one while something
/// that may be recorded with a moment before it is still on its way. So what is told of a moment stays.
///
/// # Errors
/// 422 for one that is still to come; when the database cannot be reached.
pub async fn settled(
    conn: &mut AsyncPgConnection,
    moment: Option<DateTime<Utc>>,
    now: DateTime<Utc>,
    at: &str,
) -> Result<Option<DateTime<Utc>>, AppError> {
    let Some(moment) = moment else { return Ok(None) };
    past(moment, now, at)?;
    let unfinished = db::acting::oldest_unfinished(conn).await?;
    let before = |began: DateTime<Utc>| moment.min(began - TimeDelta::microseconds(1));
    Ok(Some(unfinished.map_or(moment, before)))
}

fn too_much() -> AppError {
    AppError::invalid(
        "/as_known_at",
        format!(
            "more than {MOST_NIGHTS} nights would have to be worked out again: ask for fewer \
             nights or stores, or for a later moment"
        ),
    )
}

/// A store as it was known at a moment: its nights of a span, and what of the nights before they need.
struct Recall<'a> {
    deps: &'a Deps,
    store: &'a StoreId,
    at: DateTime<Utc>,
    /// The dates that anything was recorded of since.
    touched: &'a BTreeSet<BusinessDate>,
    /// From where on everything is here.
    from: BusinessDate,
    stood: Stood,
    /// Nights that were touched since, as they were: nothing where none was tallied yet.
    then: BTreeMap<BusinessDate, Option<Reckoned>>,
    /// How many nights may still be worked out.
    left: usize,
}

impl Recall<'_> {
    /// Reads the nights from a date on that are not here yet, those touched since as they were.
    async fn read_from(
        &mut self,
        conn: &mut AsyncPgConnection,
        from: BusinessDate,
    ) -> Result<(), AppError> {
        let before = self.from;
        if from >= before {
            return Ok(());
        }
        self.stood.read_from(conn, self.store, from).await?;
        for date in self.touched.range(from..before) {
            let night = match db::known::pin(conn, self.store, *date, self.at).await? {
                None => None,
                Some(known_at) => {
                    self.left = self.left.checked_sub(1).ok_or_else(too_much)?;
                    let (deps, store, at) = (self.deps, self.store, self.at);
                    Some(Reckoned::then(deps, conn, store, *date, known_at, at).await?)
                }
            };
            self.then.insert(*date, night);
        }
        self.from = from;
        Ok(())
    }

    fn day(&self, date: BusinessDate) -> Option<&Day> {
        match self.then.get(&date) {
            Some(then) => then.as_ref().map(|night| &night.day),
            None => self.stood.nights.get(date).map(|night| &night.day),
        }
    }

    fn count(&self, item: &ItemId, date: BusinessDate) -> Option<Counted> {
        self.day(date)?.items.get(item)?.count
    }

    /// Reads back until the count before the first in a span is here, of every item that was counted in
    /// it.
    async fn read_openings(
        &mut self,
        conn: &mut AsyncPgConnection,
        span: DateSpan,
    ) -> Result<(), AppError> {
        let days = span.iter().filter_map(|date| self.day(date));
        let counted = days.flat_map(|day| &day.items).filter(|(_, said)| said.count.is_some());
        let mut open: BTreeSet<ItemId> = counted.map(|(item, _)| item.clone()).collect();
        loop {
            let here: Vec<BusinessDate> = (1..=self.from.days_until(span.from()))
                .map(|back| span.from().plus_days(-back))
                .collect();
            open.retain(|item| here.iter().all(|date| self.count(item, *date).is_none()));
            if open.is_empty() {
                return Ok(());
            }
            let items: Vec<&str> = open.iter().map(ItemId::as_str).collect();
            let from = self.from;
            let before = db::tallies::counted_before(conn, self.store, from, &items).await?;
            // A night touched since may have been counted then.
            let touched = self.touched.range(..from).next_back();
            let next = before.values().chain(touched).max().copied();
            let Some(next) = next else { return Ok(()) };
            self.read_from(conn, next).await?;
        }
    }

    /// Puts the nights that were touched since as they were, and joins them to spans.
    async fn join(mut self, conn: &mut AsyncPgConnection) -> Result<Recalled, AppError> {
        let pins: BTreeMap<BusinessDate, DateTime<Utc>> = self
            .then
            .iter()
            .filter_map(|(date, night)| Some((*date, night.as_ref()?.known_at)))
            .collect();
        for (date, night) in &self.then {
            let day = night.as_ref().map(|night| night.day.clone());
            let mut endings = BTreeMap::new();
            for end in self.stood.nights.ends(*date, day.as_ref()) {
                let beside = self.stood.beside(end).map(|beside| beside.known_at);
                let known_at = pins.get(&end).copied().or(beside).unwrap_or(self.at);
                let catalogs = &self.deps.catalogs;
                let ending = stood::ending(catalogs, conn, self.store, end, known_at).await?;
                endings.insert(end, ending);
            }
            self.stood.nights.put(*date, day, &endings, self.at).map_err(anyhow::Error::new)?;
        }
        Ok(Recalled { stood: self.stood, then: self.then, left: self.left })
    }
}

/// What was recalled of a store.
pub(super) struct Recalled {
    /// Its nights as they were, from as far back as was asked or needed.
    pub stood: Stood,
    /// Those touched since, each with what its facts of then add up to; nothing where none was tallied yet.
    then: BTreeMap<BusinessDate, Option<Reckoned>>,
    /// How many nights may still be worked out.
    left: usize,
}

/// Recalls the nights of a store of a span, and those before it from a date on, as they were known at a
/// moment; at most so many are worked out again.
///
/// # Errors
/// 422 for more than can be worked out; when the database cannot be reached.
pub(super) async fn recall(
    deps: &Deps,
    conn: &mut AsyncPgConnection,
    (store, at): (&StoreId, DateTime<Utc>),
    touched: &BTreeSet<BusinessDate>,
    (span, sampled): (DateSpan, BusinessDate),
    left: usize,
) -> Result<Recalled, AppError> {
    let (from, then) = (span.to().succ(), BTreeMap::new());
    let stood = Stood::up_to(span.to());
    let mut recall = Recall { deps, store, at, touched, from, stood, then, left };
    recall.read_from(conn, span.from().min(sampled)).await?;
    recall.read_openings(conn, span).await?;
    recall.join(conn).await
}

/// Dates of each store that anything was recorded of since a moment, as far back as facts are taken.
///
/// # Errors
/// 422 for more than can be worked out; when the database cannot be reached.
pub(super) async fn touched(
    conn: &mut AsyncPgConnection,
    span: DateSpan,
    at: DateTime<Utc>,
) -> Result<Vec<Touched>, AppError> {
    let back = span.from().plus_days(-DAYS_BACK);
    let reach = DateSpan::new(back, span.to()).map_err(anyhow::Error::new)?;
    let rows = db::known::touched(conn, reach, at, MOST_TOUCHED + 1).await?;
    if i64::try_from(rows.len()).is_ok_and(|rows| rows > MOST_TOUCHED) {
        return Err(too_much());
    }
    // Refused before any is worked out.
    if rows.iter().filter(|night| night.tallied && span.contains(night.date)).count() > MOST_NIGHTS
    {
        return Err(too_much());
    }
    Ok(rows)
}

/// Nights of a store as they were at a moment, where it stood on each.
pub type StoreThen = Vec<(BusinessDate, Standing, Night)>;

/// The stores whose nights are not all as they are kept, with their nights as they were at a moment:
/// those of a span, and of the nights before it from `sampled` on. `network` is that of the moment, as
/// the acting person sees it: of nights they may not see, there is nothing. The transaction only reads
/// from here on.
///
/// # Errors
/// 422 for more than can be worked out; when the database cannot be reached.
pub async fn stores(
    deps: &Deps,
    conn: &mut AsyncPgConnection,
    caller: &Caller,
    ctx: &Ctx,
    (stores, network): (&BTreeSet<StoreId>, &Network),
    (span, sampled): (DateSpan, BusinessDate),
    at: DateTime<Utc>,
) -> Result<BTreeMap<StoreId, StoreThen>, AppError> {
    let codes: Vec<&str> = stores.iter().map(StoreId::as_str).collect();
    db::known::act_for_recall(conn, &codes).await?;
    let touched = touched(conn, span, at).await?;
    let mut by_store: BTreeMap<&StoreId, BTreeSet<BusinessDate>> = BTreeMap::new();
    for night in &touched {
        by_store.entry(&night.store).or_default().insert(night.date);
    }
    let (mut all, mut left) = (BTreeMap::new(), MOST_NIGHTS);
    for (store, dates) in by_store {
        let timeline = network.stores.iter().find(|timeline| timeline.store == *store);
        let seen = |date| {
            let at = network.standing(timeline?, date)?;
            let may = can(&ctx.actor, Action::ReadRollup, &Target::Store(&at)) == Ruling::Yes;
            may.then_some(at)
        };
        let found = recall(deps, conn, (store, at), &dates, (span, sampled), left).await?;
        left = found.left;
        let nights = found.stood.nights.iter().filter(|(date, _)| {
            *date >= sampled.min(span.from())
                && found.then.get(date).is_none_or(|then| then.is_some())
        });
        let nights = nights.filter_map(|(date, night)| {
            let mut night = night.clone();
            for (_, ended) in night.spans.iter_mut() {
                if dates.range(ended.span.opened_on..=date).next().is_some() {
                    ended.restated_at = None;
                }
            }
            Some((date, seen(date)?, night))
        });
        all.insert(store.clone(), nights.collect());
    }
    act_as(conn, caller, ctx.now).await?;
    Ok(all)
}
