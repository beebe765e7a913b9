//! Figures as they were known at a moment. Nights that nothing was recorded of since are as they are
//! stored; the others, and the spans of use that hold one of them, are worked out again in memory
//! from the facts of then, by the same rules.

use std::collections::btree_map::Entry;
use std::collections::{BTreeMap, BTreeSet};

use chrono::{DateTime, Utc};
use diesel_async::AsyncPgConnection;
use parings_core::access::{Action, Ruling, Target, can};
use parings_core::calendar::{BusinessDate, DateSpan};
use parings_core::ids::{ItemId, StoreId};
use parings_core::tally::ItemSpan;

use crate::app::catalog::{self, Network};
use crate::app::facts::DAYS_BACK;
use crate::app::receipts::{self, Receipt, Since};
use crate::app::revisions;
use crate::app::spans::{Closing, Ending, Nights};
use crate::app::tallying::{self, Night};
use crate::app::{Deps, act_as};
use crate::context::{Caller, Ctx};
use crate::db;
use crate::db::known::{Overlay, Touched};
use crate::db::tallies::{ItemSpanRow, Key};
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

fn too_much() -> AppError {
    AppError::invalid(
        "/as_known_at",
        format!(
            "more than {MOST_NIGHTS} nights would have to be worked out again: ask for fewer \
             nights or stores, or for a later moment"
        ),
    )
}

/// A store's nights as they were known at a moment.
struct Then<'a> {
    deps: &'a Deps,
    store: &'a StoreId,
    at: DateTime<Utc>,
    /// The dates that anything was recorded of since.
    touched: &'a BTreeSet<BusinessDate>,
    /// Of those, what was worked out: nothing for a night that was not tallied yet.
    worked: BTreeMap<BusinessDate, Option<Night>>,
    /// How many nights may still be worked out.
    left: usize,
}

/// A span that holds a night touched since, as it was.
struct ThenSpan {
    item: ItemId,
    date: BusinessDate,
    known_at: DateTime<Utc>,
    span: ItemSpan,
}

impl Then<'_> {
    fn is_touched(&self, from: BusinessDate, to: BusinessDate) -> bool {
        self.touched.range(from..=to).next().is_some()
    }

    /// A night that was touched since, as it was; none when it was not tallied yet.
    async fn night(
        &mut self,
        conn: &mut AsyncPgConnection,
        date: BusinessDate,
    ) -> Result<Option<&Night>, AppError> {
        if !self.worked.contains_key(&date) {
            let night = match db::known::pin(conn, self.store, date, self.at).await? {
                None => None,
                Some(known_at) => {
                    self.left = self.left.checked_sub(1).ok_or_else(too_much)?;
                    let (deps, store, at) = (self.deps, self.store, self.at);
                    Some(Night::then(deps, conn, store, date, known_at, at).await?)
                }
            };
            self.worked.insert(date, night);
        }
        Ok(self.worked.get(&date).and_then(Option::as_ref))
    }

    /// The nights after `first` up to and including `last`, as they were.
    async fn nights(
        &mut self,
        conn: &mut AsyncPgConnection,
        first: BusinessDate,
        last: BusinessDate,
    ) -> Result<Nights, AppError> {
        let mut nights = Nights::read(conn, self.store, first, last).await?;
        for date in self.touched.range(first.succ()..=last) {
            match self.night(conn, *date).await? {
                Some(night) => nights.put(*date, &night.day),
                None => nights.take_out(*date),
            }
        }
        Ok(nights)
    }

    /// The last count of an item before a date, as it was. `stored` is what stands there now.
    async fn opening(
        &mut self,
        conn: &mut AsyncPgConnection,
        item: &ItemId,
        mut before: BusinessDate,
        mut stored: Option<Closing>,
    ) -> Result<Option<Closing>, AppError> {
        let touched = self.touched;
        loop {
            let since = stored.map(|(date, _)| date);
            let later = touched.range(..before).rev();
            for date in later.take_while(|date| since.is_none_or(|since| **date >= since)) {
                let night = self.night(conn, *date).await?;
                let count = night.and_then(|n| n.day.items.get(item)).and_then(|day| day.count);
                if let Some(count) = count {
                    return Ok(Some((*date, count)));
                }
            }
            let Some(date) = since.filter(|date| touched.contains(date)) else { return Ok(stored) };
            before = date;
            let rows = db::tallies::counts_before(conn, self.store, date, &[item.as_str()]).await?;
            stored = tallying::by_item(rows)?.remove(item);
        }
    }

    /// The spans that end on one of the dates and hold a night touched since, as they were.
    async fn spans(
        &mut self,
        conn: &mut AsyncPgConnection,
        ends: DateSpan,
    ) -> Result<Vec<ThenSpan>, AppError> {
        let mut nights = self.nights(conn, ends.from().pred(), ends.to()).await?;
        let counts: BTreeMap<ItemId, Vec<Closing>> =
            nights.counts().into_iter().map(|(item, all)| (item.clone(), all)).collect();
        let items: Vec<&str> = counts.keys().map(ItemId::as_str).collect();
        let before = db::tallies::counts_before(conn, self.store, ends.from(), &items).await?;
        let before = tallying::by_item(before)?;
        let mut pairs = Vec::new();
        for (item, counts) in &counts {
            let stored = before.get(item).copied();
            let opening = self.opening(conn, item, ends.from(), stored).await?;
            let run: Vec<Closing> = opening.into_iter().chain(counts.iter().copied()).collect();
            for pair in run.windows(2) {
                if let [from, to] = pair
                    && self.is_touched(from.0, to.0)
                {
                    pairs.push((item, *from, *to));
                }
            }
        }
        let first = pairs.iter().map(|(_, from, _)| from.0).min();
        if let Some(first) = first.filter(|first| *first < ends.from().pred()) {
            nights = self.nights(conn, first, ends.to()).await?;
        }
        let mut endings: BTreeMap<BusinessDate, Ending> = BTreeMap::new();
        let mut spans = Vec::new();
        for (item, from, to) in pairs {
            let date = to.0;
            if let Entry::Vacant(free) = endings.entry(date) {
                let pin = db::known::pin(conn, self.store, date, self.at).await?;
                let (catalogs, known_at) = (&self.deps.catalogs, pin.unwrap_or(self.at));
                let ending = Ending::read(catalogs, conn, self.store, date, known_at).await?;
                free.insert(ending);
            }
            let ending = &endings[&date];
            let (span, known_at) = (nights.span(ending, item, from, to), ending.known_at);
            spans.push(ThenSpan { item: item.clone(), date, known_at, span });
        }
        Ok(spans)
    }
}

/// Dates of each store that anything was recorded of since a moment, as far back as facts are taken.
async fn touched(
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

/// The receipt of a night as it was known at a moment, for whoever may read it now. The transaction
/// only reads from here on.
///
/// # Errors
/// 422 for more than can be worked out; when the database cannot be reached.
pub async fn receipt(
    deps: &Deps,
    conn: &mut AsyncPgConnection,
    caller: &Caller,
    ctx: &Ctx,
    (store, date): (&StoreId, BusinessDate),
    at: DateTime<Utc>,
) -> Result<Receipt, AppError> {
    db::known::act_for_recall(conn, &[store.as_str()]).await?;
    let known_at = match db::known::pin(conn, store, date, at).await? {
        Some(known_at) => known_at,
        // Nothing was recorded of the night yet, and perhaps the store was not known either.
        None if catalog::standing(conn, date, at, store).await.is_ok() => at,
        None => ctx.now,
    };
    let night = Night::then(deps, conn, store, date, known_at, at).await?;
    let alone = DateSpan::new(date, date).map_err(anyhow::Error::new)?;
    let dates = touched(conn, alone, at).await?.into_iter().map(|night| night.date).collect();
    let (worked, left) = (BTreeMap::new(), MOST_NIGHTS);
    let mut then = Then { deps, store, at, touched: &dates, worked, left };
    let mut spans = BTreeMap::new();
    for row in db::tallies::spans_of(conn, store, date).await? {
        let restated_at = row.restated_at();
        let (item, span) = row.into_parts()?;
        if !then.is_touched(span.opened_on, date) {
            spans.insert(item, (span, restated_at));
        }
    }
    for found in then.spans(conn, alone).await? {
        spans.insert(found.item, (found.span, None));
    }
    let pooled = tallying::settings(&night.catalog)?.sample_nights;
    let samples = then.nights(conn, date.plus_days(-i64::from(pooled)), date).await?.samples();
    let revisions = revisions::of_night(conn, store, date).await?;
    let revisions = revisions.into_iter().filter_map(|r| r.as_known(at)).collect();
    let receipt = receipts::of(store, date, night, Since { spans, samples, revisions })?;
    act_as(conn, caller, ctx.now).await?;
    Ok(receipt)
}

/// Tallies of stores as they were at a moment, where they are not as they are stored: those of a
/// span's dates, and of so many nights before it as samples are pooled over. `network` is that of the
/// moment, as the acting person sees it: of nights they may not see, there is nothing. The
/// transaction only reads from here on.
///
/// # Errors
/// 422 for more than can be worked out; when the database cannot be reached.
pub async fn overlay(
    deps: &Deps,
    conn: &mut AsyncPgConnection,
    caller: &Caller,
    ctx: &Ctx,
    (stores, network): (&BTreeSet<StoreId>, &Network),
    (span, pooled): (DateSpan, u32),
    at: DateTime<Utc>,
) -> Result<Overlay, AppError> {
    let codes: Vec<&str> = stores.iter().map(StoreId::as_str).collect();
    db::known::act_for_recall(conn, &codes).await?;
    let touched = touched(conn, span, at).await?;
    let mut by_store: BTreeMap<&StoreId, BTreeSet<BusinessDate>> = BTreeMap::new();
    for night in &touched {
        by_store.entry(&night.store).or_default().insert(night.date);
    }
    let (mut days, mut spans, mut left) = (Vec::new(), Vec::new(), MOST_NIGHTS);
    for (store, dates) in &by_store {
        let Some(timeline) = network.stores.iter().find(|t| t.store == **store) else { continue };
        let seen = |date| {
            let at = network.standing(timeline, date)?;
            let may = can(&ctx.actor, Action::ReadRollup, &Target::Store(&at)) == Ruling::Yes;
            may.then_some(at)
        };
        let worked = BTreeMap::new();
        let mut then = Then { deps, store, at, touched: dates, worked, left };
        for found in then.spans(conn, span).await? {
            let Some(standing) = seen(found.date) else { continue };
            let ThenSpan { item, date, known_at, span } = found;
            let key = Key { standing: &standing, date, known_at };
            spans.push(ItemSpanRow::new(key, &item, &span, None)?);
        }
        // Portions weighed before the span speak for its first nights too.
        let sampled = span.from().plus_days(-i64::from(pooled));
        for date in dates.range(sampled..span.from()) {
            then.night(conn, *date).await?;
        }
        left = then.left;
        for (date, night) in &then.worked {
            let Some((night, standing)) = night.as_ref().zip(seen(*date)) else { continue };
            let key = Key { standing: &standing, date: *date, known_at: night.known_at };
            days.push(db::tallies::day_rows(key, night.revision, &night.day)?);
        }
    }
    act_as(conn, caller, ctx.now).await?;
    Ok(Overlay::new(&touched, days, &spans)?)
}
