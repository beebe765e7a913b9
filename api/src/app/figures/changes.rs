//! What changed and why: between two moments, what was recorded that touches a figure, and what the
//! figure was before and after.

use std::collections::BTreeSet;

use chrono::{DateTime, Utc};
use diesel_async::AsyncPgConnection;
use parings_core::access::{Action, Target};
use parings_core::calendar::{BusinessDate, DateSpan};
use parings_core::ids::{ItemId, PersonId, StoreId};
use parings_core::rollup::By;
use parings_core::tally::Figure;
use serde_json::Value;
use uuid::Uuid;

use crate::app::Deps;
use crate::app::figures::rollups::{self, Asked, Rollup};
use crate::app::ground::names::{Names, Who};
use crate::app::ground::{audit, catalog};
use crate::app::night::as_known;
use crate::app::night::receipts::{self, ItemReport, Receipt};
use crate::app::night::trace::Worth;
use crate::context::{Caller, Ctx};
use crate::db;
use crate::db::changes::{Between, EventRow, NightRow};
use crate::error::AppError;

/// The most events of one answer.
pub const MOST_EVENTS: usize = 500;

/// From when to when; until now when the second is left out.
#[derive(Debug, Clone, Copy)]
pub struct Moments {
    /// After this one.
    pub since: DateTime<Utc>,
    /// Up to this one.
    pub until: Option<DateTime<Utc>>,
}

impl Moments {
    /// The moments that an answer is of, by which nothing is on its way any more.
    async fn settled(
        self,
        conn: &mut AsyncPgConnection,
        now: DateTime<Utc>,
    ) -> Result<Self, AppError> {
        let until = as_known::settled(conn, self.until, now, "/until").await?;
        if self.since > self.until.unwrap_or(now) {
            return Err(AppError::invalid("/since", "this moment is not before the other"));
        }
        let since = as_known::settled(conn, Some(self.since), now, "/since").await?;
        Ok(Self { since: since.unwrap_or(self.since), until })
    }

    fn between(self, now: DateTime<Utc>) -> Between {
        Between { since: self.since, until: self.until.unwrap_or(now) }
    }
}

/// Something recorded that touches a night's figures.
pub struct Event {
    /// `revision`, `entry`, `withdrawal`, `till_batch` or `restatement`.
    pub kind: String,
    /// The business date of the night it belongs to.
    pub date: BusinessDate,
    /// Which: an entry's kind, a revision's number, a batch's id.
    pub what: String,
    /// When it was recorded.
    pub at: DateTime<Utc>,
    /// Why, where somebody said.
    pub reason: Option<String>,
    /// Whether it came after the night's count was accepted.
    pub late: bool,
    /// Who recorded it, told to those who work in the store.
    pub who: Option<Who>,
}

/// A figure that is not what it was.
pub struct Changed {
    /// The item, for a figure of one.
    pub item: Option<ItemId>,
    /// Which of the figures of a receipt.
    pub figure: Figure,
    /// What it was; none while unknown.
    pub before: Option<Worth>,
    /// What it became; none while unknown.
    pub after: Option<Worth>,
}

/// What changed of a night, and why.
pub struct Changes {
    /// The store whose night it is.
    pub store: StoreId,
    /// The business date of the night.
    pub date: BusinessDate,
    /// The moment after which changes are told.
    pub since: DateTime<Utc>,
    /// The moment up to which changes are told.
    pub until: DateTime<Utc>,
    /// What was recorded, oldest first.
    pub events: Vec<Event>,
    /// Whether there were more of them.
    pub more_events: bool,
    /// The figures that differ.
    pub figures: Vec<Changed>,
}

/// Says what changed of a night between two moments, and why.
///
/// # Errors
/// 404 and 403 as the policy says, 422 for moments to come or in the wrong order.
pub async fn of_night(
    deps: &Deps,
    caller: &Caller,
    store: &StoreId,
    date: BusinessDate,
    moments: Moments,
) -> Result<Changes, AppError> {
    deps.acting(caller, async |conn, ctx| {
        let standing = catalog::standing(conn, date, ctx.now, store).await?;
        ctx.require(Action::ReadNight, &Target::Store(&standing))?;
        let moments = moments.settled(conn, ctx.now).await?;
        let between = moments.between(ctx.now);
        audit::note_reading(conn, ctx, Action::ReadNight, &standing, date).await?;
        let night = (&standing, date);
        let after = receipts::known(deps, conn, caller, ctx, night, moments.until).await?;
        let since = Some(between.since);
        let before = receipts::known(deps, conn, caller, ctx, night, since).await?;
        let opened = [&before, &after].into_iter().flat_map(|receipt| &receipt.items);
        let opened = opened.filter_map(|item| Some(item.span.as_ref()?.opened_on)).min();
        let opened = opened.unwrap_or(date);
        let pooled = before.settings.sample_nights.max(after.settings.sample_nights);
        let sampled = date.plus_days(1 - i64::from(pooled.max(1)));
        let span = DateSpan::new(opened.min(sampled), date).map_err(anyhow::Error::new)?;
        // One more says that there are more; what does not touch the night may be among them.
        let limit = i64::try_from(MOST_EVENTS + 1).map_err(anyhow::Error::new)?;
        let rows = db::changes::of_nights(conn, store, span, between, limit).await?;
        let more_events = rows.len() > MOST_EVENTS;
        let mut rows: Vec<EventRow> =
            rows.into_iter().filter(|row| touches(row, opened, date)).collect();
        rows.truncate(MOST_EVENTS);
        let people: Vec<Uuid> = rows.iter().filter_map(|row| row.person).collect();
        let names = Names::of(conn, ctx, &people).await?;
        let events = rows.into_iter().map(|row| Event {
            kind: row.kind,
            date: row.business_date.into(),
            what: row.what,
            at: row.at,
            reason: row.reason,
            late: row.late,
            who: row.person.and_then(|id| names.who(PersonId(id))),
        });
        let events = events.collect();
        let (store, figures) = (store.clone(), figures(&before, &after));
        let Between { since, until } = between;
        Ok(Changes { store, date, since, until, events, more_events, figures })
    })
    .await
}

/// Whether something recorded touches the figures of a night whose spans open on `opened`: of the
/// opening night its count does, of nights further back portions weighed.
fn touches(row: &EventRow, opened: BusinessDate, date: BusinessDate) -> bool {
    let on = BusinessDate::from(row.business_date);
    let sample = row.what == "sample" && matches!(row.kind.as_str(), "entry" | "withdrawal");
    let count = matches!(row.kind.as_str(), "revision" | "restatement");
    on == date || on > opened || on == opened && count || sample
}

fn figures(before: &Receipt, after: &Receipt) -> Vec<Changed> {
    let items = |receipt: &Receipt| -> BTreeSet<ItemId> {
        receipt.items.iter().map(|item| item.id.clone()).collect()
    };
    let all: BTreeSet<ItemId> = items(before).union(&items(after)).cloned().collect();
    let of_items = all.into_iter().flat_map(|item| {
        let figures = Figure::ALL.iter().filter(|figure| figure.is_of_item());
        figures.map(move |figure| (Some(item.clone()), *figure))
    });
    let of_night = Figure::ALL.iter().filter(|figure| !figure.is_of_item());
    let of_night = of_night.map(|figure| (None, *figure));
    of_night
        .chain(of_items)
        .map(|(item, figure)| {
            let worth = |receipt| worth(receipt, item.as_ref(), figure);
            let (before, after) = (worth(before), worth(after));
            Changed { item, figure, before, after }
        })
        .filter(|changed| changed.before != changed.after)
        .collect()
}

fn worth(receipt: &Receipt, item: Option<&ItemId>, figure: Figure) -> Option<Worth> {
    let Some(item) = item else {
        let orders = receipt.day.dayparts.values().map(|part| part.tickets.orders).sum();
        let sales = receipt.day.night.sales;
        return match figure {
            Figure::Sales => sales.map(|sum| Worth::Money(sum, receipt.settings.currency)),
            _ => Some(Worth::Orders(orders)),
        };
    };
    let of = |report: &&ItemReport| report.id == *item;
    let report = receipt.items.iter().find(of)?;
    let amount = figure.value(&report.day, report.span.as_ref(), report.causes.as_ref())?;
    Some(Worth::Amount(amount, report.item.base))
}

/// What changed of a roll-up, and the nights it comes from.
pub struct RollupChanges {
    /// The moment after which changes are told.
    pub since: DateTime<Utc>,
    /// The moment up to which changes are told.
    pub until: DateTime<Utc>,
    /// The roll-up as it was known at the first moment.
    pub before: Rollup,
    /// The roll-up as it was known at the second.
    pub after: Rollup,
    /// The nights that something was recorded of, by date and store.
    pub nights: Vec<ChangedNight>,
}

/// A night that something was recorded of.
pub struct ChangedNight {
    /// The store whose night it is.
    pub store: StoreId,
    /// The business date of the night.
    pub date: BusinessDate,
    /// What, by kind: how often, when last, and the reasons given.
    pub events: Value,
}

/// Says what changed of a scope's roll-up between two moments, and the nights behind it.
///
/// # Errors
/// Those of [`rollups::find`], and 422 for moments to come or in the wrong order.
pub async fn of_rollup(
    deps: &Deps,
    caller: &Caller,
    asked: Asked,
    moments: Moments,
    after: Option<(BusinessDate, StoreId)>,
    limit: usize,
) -> Result<RollupChanges, AppError> {
    let settled = deps.acting(caller, async |conn, ctx| {
        let moments = moments.settled(conn, ctx.now).await?;
        Ok((moments, moments.between(ctx.now)))
    });
    let (moments, between) = settled.await?;
    let asked = Asked { by: By::None, children: false, ..asked };
    let then = |as_known_at| Asked { as_known_at, ..asked.clone() };
    let now = rollups::find(deps, caller, then(moments.until)).await?;
    let before = rollups::find(deps, caller, then(Some(between.since))).await?;
    let nights = deps.acting(caller, async |conn, _: &Ctx| {
        let limit = i64::try_from(limit).map_err(anyhow::Error::new)?;
        let after = after.as_ref().map(|(date, store)| (*date, store));
        let rows =
            db::changes::of_scope(conn, &asked.scope, asked.span, between, after, limit).await?;
        let night = |row: NightRow| {
            let store = row.store_id.parse().map_err(anyhow::Error::new)?;
            Ok(ChangedNight { store, date: row.business_date.into(), events: row.events })
        };
        rows.into_iter().map(night).collect::<Result<Vec<_>, AppError>>()
    });
    let (Between { since, until }, nights) = (between, nights.await?);
    Ok(RollupChanges { since, until, before, after: now, nights })
}
