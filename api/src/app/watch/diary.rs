//! The diary of a store: what happened there that no figure tells.

use chrono::{DateTime, NaiveDate, Utc};
use parings_core::access::{Action, Role, Target};
use parings_core::calendar::{BusinessDate, DateSpan};
use parings_core::ids::{PersonId, StoreId};
use serde::Serialize;
use serde_json::json;
use uuid::Uuid;

use crate::app::Deps;
use crate::app::ground::catalog;
use crate::app::ground::names::Names;
use crate::app::ground::writes::{self, Reply, Write};
use crate::context::Caller;
use crate::db;
use crate::db::diary::DiaryRow;
use crate::edge::new_id;
use crate::error::AppError;

/// How far back, and how far ahead, an entry may begin.
const DAYS_BACK: i64 = 400;
const DAYS_AHEAD: i64 = 60;

/// What kinds of entries there are.
pub const KINDS: &[&str] = &[
    "new_manager",
    "new_people",
    "new_blade",
    "new_scale",
    "fryer_out",
    "equipment",
    "roadworks",
    "event",
    "supplier",
    "hours",
    "other",
];

/// What somebody writes.
#[derive(Debug, Clone, Serialize)]
pub struct Entry {
    /// One of [`KINDS`].
    pub kind: &'static str,
    /// The first date it is about.
    pub from: BusinessDate,
    /// The last date it is about.
    pub to: BusinessDate,
    /// Whether no review looks at its nights.
    pub sets_aside: bool,
    /// What happened, in words.
    pub said: String,
}

/// An entry as it is kept.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Written {
    /// The id that the server gave it.
    pub id: Uuid,
    /// The store in whose diary it stands.
    pub store: StoreId,
    /// One of [`KINDS`].
    pub kind: String,
    /// The first date it is about.
    pub from: BusinessDate,
    /// The last date it is about.
    pub to: BusinessDate,
    /// Whether no review looks at its nights.
    pub sets_aside: bool,
    /// What happened, in words.
    pub said: String,
    /// The account that wrote it, where that is told.
    pub by: Option<PersonId>,
    /// When it was written.
    pub at: DateTime<Utc>,
    /// Why it was withdrawn; none while it stands.
    pub withdrawn: Option<String>,
}

impl Written {
    fn read(row: DiaryRow, names: &Names) -> Result<Self, AppError> {
        Ok(Self {
            id: row.id,
            store: row.store_id.parse().map_err(anyhow::Error::new)?,
            kind: row.kind,
            from: row.from_date.into(),
            to: row.to_date.into(),
            sets_aside: row.sets_aside,
            said: row.said,
            by: names.id(PersonId(row.said_by)),
            at: row.said_at,
            withdrawn: row.withdrawn,
        })
    }
}

/// Writes into the diary of a store.
///
/// # Errors
/// 404 and 403 as the policy says, 403 for who may not set nights aside, 422 for dates too far away.
pub async fn add<W: Serialize>(
    deps: &Deps,
    caller: &Caller,
    write: Write,
    store: &StoreId,
    entry: &Entry,
    show: impl Fn(Written) -> W,
) -> Result<Reply, AppError> {
    deps.acting(caller, async |conn, ctx| {
        let today = ctx.today();
        let standing = catalog::standing(conn, today, ctx.now, store).await?;
        ctx.require(Action::WriteDiary, &Target::Store(&standing))?;
        if entry.sets_aside && matches!(ctx.actor.role, Role::Manager(_)) {
            return Err(AppError::Forbidden {
                role: ctx.actor.role.word().to_owned(),
                action: "set nights aside",
            });
        }
        let first = today.plus_days(-DAYS_BACK);
        if entry.from < first || entry.from > today.plus_days(DAYS_AHEAD) {
            let says = format!("a date from {first} to {}", today.plus_days(DAYS_AHEAD));
            return Err(AppError::invalid("/from", says));
        }
        writes::replay_or(conn, ctx, &write, entry, async |conn| {
            // Where it stood then, if it stood anywhere by then.
            let then = catalog::standing(conn, entry.from, ctx.now, store).await;
            let standing = then.unwrap_or(standing);
            let row = DiaryRow {
                id: new_id(),
                store_id: store.to_string(),
                kind: entry.kind.to_owned(),
                from_date: entry.from.into(),
                to_date: entry.to.into(),
                sets_aside: entry.sets_aside,
                said: entry.said.clone(),
                said_by: ctx.actor.person.0,
                said_at: ctx.now,
                withdrawn: None,
            };
            let place = (standing.district.as_str(), standing.owner.as_str());
            db::diary::add(conn, place, &row).await?;
            let detail = json!({ "kind": row.kind, "from": row.from_date, "to": row.to_date,
                "sets_aside": row.sets_aside });
            let (word, target) = (Action::WriteDiary.word(), format!("diary of {store}"));
            db::audit::add(conn, ctx, word, &target, Some(store), Some(detail)).await?;
            let names = Names::of(conn, ctx, &[row.said_by]).await?;
            Reply::created(show(Written::read(row, &names)?))
        })
        .await
    })
    .await
}

/// The entries of a store that touch a span, in order of date.
///
/// # Errors
/// 404 and 403 as the policy says.
pub async fn list(
    deps: &Deps,
    caller: &Caller,
    store: &StoreId,
    span: DateSpan,
    after: Option<(NaiveDate, Uuid)>,
    limit: usize,
) -> Result<Vec<Written>, AppError> {
    let limit = i64::try_from(limit).map_err(|e| AppError::Internal(e.into()))?;
    deps.acting(caller, async |conn, ctx| {
        let standing = catalog::standing(conn, ctx.today(), ctx.now, store).await?;
        ctx.require(Action::ReadDiary, &Target::Store(&standing))?;
        let rows = db::diary::list(conn, store.as_str(), span, after, limit).await?;
        let by: Vec<Uuid> = rows.iter().map(|row| row.said_by).collect();
        let names = Names::of(conn, ctx, &by).await?;
        rows.into_iter().map(|row| Written::read(row, &names)).collect()
    })
    .await
}

/// Why an entry is withdrawn.
#[derive(Debug, Clone, Serialize)]
pub struct Withdrawal {
    /// Why it is withdrawn, in words.
    pub reason: String,
}

/// Withdraws an entry: it stays, and sets nothing aside.
///
/// # Errors
/// 404 and 403 as the policy says, 403 for a manager who did not write it, 409 when it is withdrawn.
pub async fn withdraw<W: Serialize>(
    deps: &Deps,
    caller: &Caller,
    write: Write,
    (store, id): (&StoreId, Uuid),
    withdrawal: &Withdrawal,
    show: impl Fn(Written) -> W,
) -> Result<Reply, AppError> {
    deps.acting(caller, async |conn, ctx| {
        let standing = catalog::standing(conn, ctx.today(), ctx.now, store).await?;
        ctx.require(Action::WriteDiary, &Target::Store(&standing))?;
        writes::replay_or(conn, ctx, &write, withdrawal, async |conn| {
            let row = db::diary::one(conn, store.as_str(), id).await?;
            let row =
                row.ok_or_else(|| AppError::not_found(format!("entry {id} of this diary")))?;
            if row.withdrawn.is_some() {
                return Err(AppError::Conflict(format!("entry {id} is withdrawn already")));
            }
            let own = row.said_by == ctx.actor.person.0;
            if !own && matches!(ctx.actor.role, Role::Manager(_)) {
                return Err(AppError::Forbidden {
                    role: ctx.actor.role.word().to_owned(),
                    action: "withdraw what somebody else wrote",
                });
            }
            let reason = withdrawal.reason.as_str();
            db::diary::withdraw(conn, id, reason, ctx.actor.person.0, ctx.now).await?;
            let target = format!("diary of {store}");
            let detail = json!({ "withdrawn": id, "reason": reason });
            let word = Action::WriteDiary.word();
            db::audit::add(conn, ctx, word, &target, Some(store), Some(detail)).await?;
            let row = DiaryRow { withdrawn: Some(reason.to_owned()), ..row };
            let names = Names::of(conn, ctx, &[row.said_by]).await?;
            Reply::changed(show(Written::read(row, &names)?))
        })
        .await
    })
    .await
}
