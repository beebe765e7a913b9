//! What is recorded through the day: waste, deliveries, transfers, batches, stock-outs, samples.
//!
//! An entry is never changed. It can be withdrawn, once and with a reason, and stays on record:
//! crew withdraw what they recorded themselves, the manager and head office any entry.

mod check;

use chrono::{DateTime, Utc};
use diesel_async::AsyncPgConnection;
use parings_core::access::{Action, Role, Standing};
use parings_core::calendar::BusinessDate;
use parings_core::catalog::Catalog;
use parings_core::ids::{EntryId, PersonId, StoreId, WriteId};
use parings_core::night::{self, AmountError, Entry, EntryBody};
use parings_core::quantity::Amount;
use serde::Serialize;
use serde_json::json;
use uuid::Uuid;

use crate::app::Deps;
use crate::app::ground::audit;
use crate::app::ground::names::{Names, Who};
use crate::app::ground::writes::{self, Reply, Write};
use crate::app::night::facts::{self, Ground};
use crate::app::night::revisions::Withdrawal;
use crate::app::night::tallying::{self, Pin};
use crate::context::{Caller, Ctx};
use crate::db;
use crate::db::entries::{EntryRow, NewEntry, Recording, WithdrawalRow};
use crate::error::AppError;

pub use check::{cannot_withdraw, discards, faults, transfers};

/// An entry on record.
#[derive(Debug, Clone, PartialEq)]
pub struct Recorded {
    /// As it was typed.
    pub entry: Entry,
    /// How much of its item it moves, as purchased; none for a stock-out and for samples.
    pub amount: Option<Amount>,
    /// When it was recorded.
    pub at: DateTime<Utc>,
    /// Whether that was after the night's count had been accepted.
    pub late: bool,
    /// By whom, told to those who work in the store.
    pub by: Option<Who>,
    /// That it was withdrawn.
    pub withdrawn: Option<Withdrawn>,
}

/// That an entry was withdrawn.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Withdrawn {
    /// Why it was withdrawn, in words.
    pub reason: String,
    /// When it was withdrawn.
    pub at: DateTime<Utc>,
    /// By whom, told to those who work in the store.
    pub by: Option<Who>,
}

/// Checks entries and adds them, as the acting person's. `at` is where the request has the list,
/// as a JSON Pointer. Tallies are not touched.
///
/// # Errors
/// 422 with every place that cannot be taken, or with an id that was used before.
#[expect(clippy::too_many_arguments, reason = "a night and a write, both said in full")]
pub async fn record(
    conn: &mut AsyncPgConnection,
    ctx: &Ctx,
    catalog: &Catalog,
    standing: &Standing,
    date: BusinessDate,
    entries: &[Entry],
    write: WriteId,
    at: &str,
) -> Result<(), AppError> {
    let mut faults = faults(catalog, &standing.store, entries, at);
    faults.extend(discards(catalog, &standing.store, date, entries, at));
    faults.extend(transfers(conn, ctx.now, date, entries, at).await?);
    if !faults.is_empty() {
        return Err(AppError::Invalid(faults));
    }
    if entries.is_empty() {
        return Ok(());
    }
    // Before the ids are taken: who holds an id and waits for the store, while another holds the
    // store and waits for the id, waits for ever.
    db::tallies::lock(conn, &standing.store).await?;
    insert(conn, &Recording { standing, date, by: ctx.actor.person, at: ctx.now, write }, entries)
        .await
}

/// Adds entries that were checked.
///
/// # Errors
/// 422 with an id that was used before.
pub(in crate::app) async fn insert(
    conn: &mut AsyncPgConnection,
    recording: &Recording<'_>,
    entries: &[Entry],
) -> Result<(), AppError> {
    let rows = entries.iter().map(|entry| {
        let body = serde_json::to_value(&entry.body).map_err(anyhow::Error::new)?;
        Ok(NewEntry { id: entry.id, kind: entry.body.kind(), body })
    });
    let rows = rows.collect::<Result<Vec<_>, AppError>>()?;
    match db::entries::add(conn, recording, &rows).await?.first() {
        Some(taken) => Err(AppError::IdTaken(taken.to_string())),
        None => Ok(()),
    }
}

/// Withdraws entries in a person's name. Tallies are not touched.
///
/// # Errors
/// 409 when one was withdrawn before.
pub async fn take_back(
    conn: &mut AsyncPgConnection,
    (standing, date): (&Standing, BusinessDate),
    by: PersonId,
    at: DateTime<Utc>,
    withdraw: &[Withdrawal],
) -> Result<(), AppError> {
    for Withdrawal { id, reason } in withdraw {
        let (reason, withdrawn_by) = (reason.clone(), by.0);
        let row = WithdrawalRow { reason, withdrawn_by, withdrawn_at: at };
        if !db::entries::withdraw(conn, standing, date, *id, &row).await? {
            return Err(AppError::Conflict(format!("the entry {id} was withdrawn before")));
        }
    }
    Ok(())
}

/// How much of its item an entry moves, as it is tallied.
fn amount(catalog: &Catalog, body: &EntryBody) -> Result<Option<Amount>, AmountError> {
    let Some(exact) = night::amount(catalog, body)? else { return Ok(None) };
    let item = catalog.item(body.item())?;
    let settled = exact.settle()?;
    Ok(Some(Amount::new(item.base, settled.base().value())))
}

/// Records entries of one date. `show` makes the answer's body.
///
/// # Errors
/// 404 and 403 as the policy says, 422 with every place that cannot be taken.
pub async fn add<W: Serialize>(
    deps: &Deps,
    caller: &Caller,
    write: Write,
    store: &StoreId,
    date: BusinessDate,
    entries: Vec<Entry>,
    show: impl Fn(Vec<Recorded>) -> W,
) -> Result<Reply, AppError> {
    let content = json!({ "business_date": date, "entries": entries });
    deps.writing(caller, store, async |conn, ctx| {
        let ground = facts::ground(deps, conn, ctx, Action::Record, store, date).await?;
        writes::replay_or(conn, ctx, &write, &content, async |conn| {
            ground.takes_facts(ctx.now, "/business_date")?;
            ground.is_open_to_entries(ctx.now)?;
            let Ground { standing, catalog, .. } = &ground;
            record(conn, ctx, catalog, standing, date, &entries, write.id, "/entries").await?;
            let ids: Vec<_> = entries.iter().map(|entry| entry.id).collect();
            note(conn, ctx, &ground, "record entries", json!({ "entries": ids })).await?;
            let names = Names::of(conn, ctx, &[ctx.actor.person.0]).await?;
            let late = db::nights::first_accepted(conn, store, date).await?.is_some();
            tallying::recompute(deps, conn, ctx.now, standing, date, Pin::Keep).await?;
            let recorded = entries.into_iter().map(|entry| Recorded {
                amount: amount(catalog, &entry.body).ok().flatten(),
                entry,
                at: ctx.now,
                late,
                by: names.who(ctx.actor.person),
                withdrawn: None,
            });
            Reply::created(show(recorded.collect()))
        })
        .await
    })
    .await
}

/// The entries of a night in the order they came, from after `after` on; withdrawn ones are among
/// them.
///
/// # Errors
/// 404 and 403 as the policy says.
pub async fn of_night(
    deps: &Deps,
    caller: &Caller,
    store: &StoreId,
    date: BusinessDate,
    after: Option<(DateTime<Utc>, EntryId)>,
    limit: usize,
) -> Result<Vec<Recorded>, AppError> {
    deps.acting(caller, async |conn, ctx| {
        let ground = facts::ground(deps, conn, ctx, Action::ReadEntries, store, date).await?;
        audit::note_reading(conn, ctx, Action::ReadEntries, &ground.standing, date).await?;
        let accepted = db::nights::first_accepted(conn, store, date).await?;
        let rows = db::entries::of_night(conn, store, date).await?;
        let later = |row: &EntryRow| after.is_none_or(|a| (row.recorded_at, EntryId(row.id)) > a);
        let rows: Vec<_> = rows.into_iter().filter(later).take(limit).collect();
        let people: Vec<_> = rows.iter().flat_map(people_of).collect();
        let names = Names::of(conn, ctx, &people).await?;
        rows.into_iter().map(|row| recorded(&ground.catalog, accepted, row, &names)).collect()
    })
    .await
}

/// Withdraws an entry. `show` makes the answer's body.
///
/// # Errors
/// 404 when there is no such entry of the store, 403 when it is not theirs to withdraw, 409 when it
/// was withdrawn before.
pub async fn withdraw<W: Serialize>(
    deps: &Deps,
    caller: &Caller,
    write: Write,
    store: &StoreId,
    id: EntryId,
    reason: String,
    show: impl Fn(Recorded) -> W,
) -> Result<Reply, AppError> {
    deps.writing(caller, store, async |conn, ctx| {
        // Who may not record is told no more of an id than of the store.
        let found = db::entries::date_of(conn, store, id).await?;
        let date = found.unwrap_or_else(|| ctx.today());
        let ground = facts::ground(deps, conn, ctx, Action::Record, store, date).await?;
        let row = db::entries::find(conn, store, date, id).await?;
        let row = row.ok_or_else(|| AppError::not_found(format!("entry {id}")))?;
        if matches!(ctx.actor.role, Role::Crew(_)) && row.recorded_by != ctx.actor.person.0 {
            return Err(AppError::Forbidden {
                role: ctx.actor.role.word().to_owned(),
                action: "withdraw what somebody else recorded",
            });
        }
        writes::replay_or(conn, ctx, &write, &reason, async |conn| {
            ground.takes_facts(ctx.now, "")?;
            ground.is_open_to_entries(ctx.now)?;
            let withdrawal = WithdrawalRow {
                reason: reason.clone(),
                withdrawn_by: ctx.actor.person.0,
                withdrawn_at: ctx.now,
            };
            if !db::entries::withdraw(conn, &ground.standing, date, id, &withdrawal).await? {
                return Err(AppError::Conflict(format!("the entry {id} was withdrawn before")));
            }
            let detail = json!({ "entry": id, "reason": reason });
            note(conn, ctx, &ground, "withdraw entry", detail).await?;
            let row = EntryRow { withdrawal: Some(withdrawal), ..row };
            let names = Names::of(conn, ctx, &people_of(&row)).await?;
            let accepted = db::nights::first_accepted(conn, store, date).await?;
            tallying::recompute(deps, conn, ctx.now, &ground.standing, date, Pin::Keep).await?;
            Reply::changed(show(recorded(&ground.catalog, accepted, row, &names)?))
        })
        .await
    })
    .await
}

async fn note(
    conn: &mut AsyncPgConnection,
    ctx: &Ctx,
    ground: &Ground,
    action: &str,
    detail: serde_json::Value,
) -> Result<(), AppError> {
    let store = &ground.standing.store;
    let target = format!("store {store}, {}", ground.date);
    Ok(db::audit::add(conn, ctx, action, &target, Some(store), Some(detail)).await?)
}

fn people_of(row: &EntryRow) -> Vec<Uuid> {
    [row.recorded_by].into_iter().chain(row.withdrawal.as_ref().map(|w| w.withdrawn_by)).collect()
}

fn recorded(
    catalog: &Catalog,
    accepted: Option<DateTime<Utc>>,
    row: EntryRow,
    names: &Names,
) -> Result<Recorded, AppError> {
    let body: EntryBody = serde_json::from_value(row.body).map_err(anyhow::Error::new)?;
    Ok(Recorded {
        amount: amount(catalog, &body).ok().flatten(),
        entry: Entry { id: EntryId(row.id), body },
        at: row.recorded_at,
        late: accepted.is_some_and(|accepted| row.recorded_at > accepted),
        by: names.who(PersonId(row.recorded_by)),
        withdrawn: row.withdrawal.map(|w| Withdrawn {
            reason: w.reason,
            at: w.withdrawn_at,
            by: names.who(PersonId(w.withdrawn_by)),
        }),
    })
}
