//! Cases: what coaches do about findings, and what came of it.

mod follow;
mod happening;
mod record;

use std::collections::BTreeSet;

use anyhow::Context;
use chrono::{DateTime, Utc};
use diesel_async::AsyncPgConnection;
use parings_core::access::{Action, Target};
use parings_core::calendar::BusinessDate;
use parings_core::catalog::StoreTimeline;
use parings_core::ids::{DistrictId, OwnerId, StoreId};
use parings_core::review::{CaseEvent, CaseStage, FindingKind, Measure, Progress};
use serde::Serialize;
use serde_json::json;
use uuid::Uuid;

use crate::app::Deps;
use crate::app::ground::catalog;
use crate::app::ground::names::Names;
use crate::app::ground::writes::{self, Reply, Write};
use crate::app::watch::findings::{self, Seen};
use crate::context::{Caller, Ctx};
use crate::db;
use crate::db::cases::{CaseRow, EventRow};
use crate::error::AppError;

pub(super) use follow::{Night, Stores, follow};
pub use happening::{Happened, Happening, Looked};
pub use record::{Record, Tally, record};

/// A case and everything that happened to it.
#[derive(Debug, Clone, PartialEq)]
pub struct Case {
    /// The id of the case.
    pub id: Uuid,
    /// The store that it is about.
    pub store: StoreId,
    /// The district whose it is: where the store stood when it was raised.
    pub district: DistrictId,
    /// The owner whose it is: who held the store when it was raised.
    pub owner: OwnerId,
    /// What it is about, as the finding said.
    pub measure: Measure,
    /// In what way the store stood out.
    pub kind: FindingKind,
    /// The night that it was raised after.
    pub as_of: BusinessDate,
    /// The night it is estimated to have begun.
    pub since: BusinessDate,
    /// The change of the ratio that it was raised for.
    pub size: f64,
    /// What it came to a week, in money; none for what has no price.
    pub money_per_week: Option<f64>,
    /// When it was raised.
    pub raised_at: DateTime<Utc>,
    /// The district in whose coach's week it was raised.
    pub raised_in: DistrictId,
    /// What the finding said when it was raised.
    pub seen: Seen,
    /// How far it is.
    pub progress: Progress,
    /// What happened, in order.
    pub history: Vec<Happened>,
}

impl Case {
    fn read(row: CaseRow, events: &[EventRow]) -> Result<Self, AppError> {
        let mut progress = Progress::default();
        let mut history = Vec::new();
        for event in events.iter().filter(|event| event.case_id == row.id) {
            let happened = Happened::read(event)?;
            if let Some(event) = happened.what.event(happened.at) {
                progress = progress.after(event).map_err(|e| AppError::Internal(e.into()))?;
            }
            history.push(happened);
        }
        Ok(Self {
            id: row.id,
            store: row.store_id.parse().context("a store's code")?,
            district: row.district_id.parse().context("a district's code")?,
            owner: row.owner_id.parse().context("an owner's code")?,
            measure: findings::measure(&row.measure)?,
            kind: findings::kind(&row.kind)?,
            as_of: row.as_of.into(),
            since: row.since.into(),
            size: row.size,
            money_per_week: row.money_per_week,
            raised_at: row.raised_at,
            raised_in: row.raised_in.parse().context("a district's code")?,
            seen: serde_json::from_value(row.seen).context("a finding on record")?,
            progress,
            history,
        })
    }

    /// A date on which its store was where the case belongs.
    fn there_on(&self) -> BusinessDate {
        let followed = |happened: &&Happened| matches!(happened.what, Happening::Followed { .. });
        let followed = self.history.iter().rfind(followed);
        followed.map_or(self.as_of, |happened| happened.at.date_naive().into())
    }

    /// Ends the case if its store has left the place where it was raised, whether that is on record by
    /// now or not.
    fn end_where_left(&mut self, stores: &[StoreTimeline], now: DateTime<Utc>) {
        let place = (&self.district, &self.owner);
        let store = stores.iter().find(|timeline| timeline.store == self.store);
        let on = store.and_then(|store| store.left(place, self.there_on(), now));
        // What has ended before stays as it ended.
        if let Some(Ok(ended)) = on.map(|on| self.progress.after(CaseEvent::Moved { on })) {
            self.progress = ended;
        }
    }
}

/// Leaves out who it was, where that is not told to the one who acts.
async fn tell(
    conn: &mut AsyncPgConnection,
    ctx: &Ctx,
    mut cases: Vec<Case>,
) -> Result<Vec<Case>, AppError> {
    let by = cases.iter().flat_map(|case| &case.history).filter_map(|happened| happened.by);
    let names = Names::of(conn, ctx, &by.map(|person| person.0).collect::<Vec<_>>()).await?;
    for happened in cases.iter_mut().flat_map(|case| &mut case.history) {
        happened.by = happened.by.and_then(|person| names.id(person));
    }
    Ok(cases)
}

/// Cases as they are at a moment, from what happened to them and where their stores are.
async fn with_events(
    conn: &mut AsyncPgConnection,
    now: DateTime<Utc>,
    rows: Vec<CaseRow>,
) -> Result<Vec<Case>, AppError> {
    let ids: Vec<Uuid> = rows.iter().map(|row| row.id).collect();
    let events = db::cases::events(conn, &ids).await?;
    let mut cases: Vec<Case> =
        rows.into_iter().map(|row| Case::read(row, &events)).collect::<Result<_, _>>()?;
    let going_on = cases.iter().filter(|case| !case.progress.stage().has_ended());
    let stores: BTreeSet<&StoreId> = going_on.map(|case| &case.store).collect();
    let stores = catalog::timelines_of(conn, &stores, now).await?;
    cases.iter_mut().for_each(|case| case.end_where_left(&stores, now));
    Ok(cases)
}

/// Which cases are asked for.
#[derive(Debug, Clone, Default)]
pub struct Filter {
    /// Only cases of this district.
    pub district: Option<DistrictId>,
    /// Only cases of this store.
    pub store: Option<StoreId>,
    /// Only cases that are at this stage.
    pub stage: Option<CaseStage>,
}

/// The cases that the caller sees, those raised last first. A stage is looked for among those of the
/// page, because it follows from what happened.
///
/// # Errors
/// 403 for other roles, 404 for a district or a store that is not the caller's to see.
pub async fn list(
    deps: &Deps,
    caller: &Caller,
    filter: &Filter,
    after: Option<(DateTime<Utc>, Uuid)>,
    limit: usize,
) -> Result<Vec<Case>, AppError> {
    deps.acting(caller, async |conn, ctx| {
        match (&filter.store, &filter.district) {
            (Some(store), _) => {
                let today = ctx.today();
                let standing = catalog::standing(conn, today, ctx.now, store).await?;
                ctx.require(Action::ReadCases, &Target::Store(&standing))?;
            }
            (None, Some(district)) => {
                ctx.require(Action::ReadCases, &Target::District(district))?;
            }
            (None, None) => ctx.require(Action::ReadCases, &Target::Network)?,
        }
        let which = db::cases::Which {
            district: filter.district.as_ref().map(DistrictId::as_str),
            store: filter.store.as_ref().map(StoreId::as_str),
            ..db::cases::Which::default()
        };
        let mut found = Vec::new();
        let mut after = after;
        // Until the page is full or there are no more.
        while found.len() < limit {
            let rows = db::cases::list(conn, which, after, AT_ONCE).await?;
            let Some(last) = rows.last() else { break };
            after = Some((last.raised_at, last.id));
            let at = |case: &Case| filter.stage.is_none_or(|stage| case.progress.stage() == stage);
            found.extend(with_events(conn, ctx.now, rows).await?.into_iter().filter(at));
        }
        found.truncate(limit);
        tell(conn, ctx, found).await
    })
    .await
}

/// So many cases are read at once.
const AT_ONCE: i64 = 200;

/// One case of a store.
///
/// # Errors
/// 404 and 403 as the policy says.
pub async fn read(
    deps: &Deps,
    caller: &Caller,
    store: &StoreId,
    case: Uuid,
) -> Result<Case, AppError> {
    deps.acting(caller, async |conn, ctx| {
        let found = find(conn, ctx, store, case).await?;
        allow(conn, ctx, Action::ReadCases, store, found.as_ref()).await?;
        found.ok_or_else(|| unseen(case))
    })
    .await
}

fn unseen(case: Uuid) -> AppError {
    AppError::not_found(format!("case {case} of this store"))
}

/// Asks the policy where a case belongs: where its store stood when it was raised. Of a case that is not
/// to be seen, where the store stands today.
async fn allow(
    conn: &mut AsyncPgConnection,
    ctx: &Ctx,
    action: Action,
    store: &StoreId,
    case: Option<&Case>,
) -> Result<(), AppError> {
    let on = case.map_or(ctx.today(), Case::there_on);
    let standing = catalog::standing(conn, on, ctx.now, store).await?;
    ctx.require(action, &Target::Store(&standing))
}

async fn find(
    conn: &mut AsyncPgConnection,
    ctx: &Ctx,
    store: &StoreId,
    case: Uuid,
) -> Result<Option<Case>, AppError> {
    let which = db::cases::Which {
        store: Some(store.as_str()),
        id: Some(case),
        ..db::cases::Which::default()
    };
    let rows = db::cases::list(conn, which, None, 1).await?;
    let found = with_events(conn, ctx.now, rows).await?;
    Ok(tell(conn, ctx, found).await?.pop())
}

/// Adds what somebody did about a case, or says to it.
///
/// # Errors
/// 404 and 403 as the policy says, 409 when it does not happen at this stage.
pub async fn add<W: Serialize>(
    deps: &Deps,
    caller: &Caller,
    write: Write,
    (store, case): (&StoreId, Uuid),
    happening: &Happening,
    show: impl Fn(Case) -> W,
) -> Result<Reply, AppError> {
    deps.acting(caller, async |conn, ctx| {
        let action = happening.action();
        let found = find(conn, ctx, store, case).await?;
        allow(conn, ctx, action, store, found.as_ref()).await?;
        writes::replay_or(conn, ctx, &write, happening, async |conn| {
            db::cases::lock(conn, case).await?;
            let found = find(conn, ctx, store, case).await?.ok_or_else(|| unseen(case))?;
            if let Some(event) = happening.event(ctx.now) {
                let next = found.progress.after(event);
                next.map_err(|not_now| AppError::Conflict(not_now.to_string()))?;
            }
            let row = happening.row(case, ctx.now, Some(ctx.actor.person))?;
            db::cases::add(conn, &row).await?;
            let target = format!("case {case} of {store}");
            let detail = json!({ "kind": row.kind });
            db::audit::add(conn, ctx, action.word(), &target, Some(store), Some(detail)).await?;
            let now = find(conn, ctx, store, case).await?.ok_or_else(|| unseen(case))?;
            Reply::created(show(now))
        })
        .await
    })
    .await
}

/// The cases of a district that go on, for its calendar.
///
/// # Errors
/// 404 and 403 as the policy says.
pub async fn going_on(
    deps: &Deps,
    caller: &Caller,
    district: &DistrictId,
) -> Result<Vec<Case>, AppError> {
    let filter = Filter { district: Some(district.clone()), ..Filter::default() };
    let mut all = list(deps, caller, &filter, None, usize::MAX).await?;
    all.retain(|case| !case.progress.stage().has_ended());
    Ok(all)
}
