//! What was worked out of a store, written.

use chrono::{DateTime, Utc};
use diesel_async::AsyncPgConnection;
use parings_core::access::{Action, Standing};
use parings_core::calendar::BusinessDate;
use parings_core::checks::Answer;
use parings_core::ids::WriteId;
use parings_core::night::{Settled, State};
use serde_json::{Value, json};

use super::work::{Worked, WorkedCount, WorkedNight};
use super::{Asked, Batch, Fact, Loaded};
use crate::app::night::revisions;
use crate::context::Ctx;
use crate::db;
use crate::db::answers::NewAnswer;
use crate::db::json::Json;
use crate::db::loading::{BatchRow, EntryRow, PinRow, Recorded, RevisionRow};
use crate::db::settlements::Settlement;
use crate::db::tallies::Key;
use crate::error::AppError;

/// Writes facts as head office, then tallies as the rules, whose part it leaves taken.
///
/// # Errors
/// When the database cannot be reached.
pub async fn write(
    conn: &mut AsyncPgConnection,
    ctx: &Ctx,
    id: WriteId,
    worked: Worked,
) -> Result<Loaded, AppError> {
    let loaded = worked.counted();
    facts(conn, ctx, id, &worked).await?;
    note(conn, ctx, id, &worked, &loaded).await?;
    db::acting::act_for_rules(conn, &worked.store).await?;
    tallies(conn, &worked).await?;
    Ok(loaded)
}

async fn facts(
    conn: &mut AsyncPgConnection,
    ctx: &Ctx,
    id: WriteId,
    worked: &Worked,
) -> Result<(), AppError> {
    let (mut revisions, mut entries, mut batches) = (Vec::new(), Vec::new(), Vec::new());
    for night in &worked.nights {
        let recorded = |by, at| Recorded::new(&night.standing, night.date, by, at, id);
        for count in &night.counts {
            let Fact { what, by, at } = &count.count;
            revisions.push(RevisionRow {
                of: recorded(*by, *at),
                revision: count.number,
                body: Json(what.count.clone()),
                reason: what.reason.clone(),
                state: count.state().word().to_owned(),
                checks: revisions::kept(&count.checks)?,
            });
        }
        for Fact { what, by, at } in &night.entries {
            entries.push(EntryRow {
                of: recorded(*by, *at),
                id: what.id.0,
                kind: what.body.kind().to_owned(),
                body: document(&what.body)?,
            });
        }
        for Fact { what: Batch { id, batch }, by, at } in &night.till {
            batches.push(BatchRow {
                of: recorded(*by, *at),
                batch_id: id.clone(),
                body: document(batch)?,
            });
        }
    }
    db::loading::revisions(conn, &revisions).await?;
    db::loading::entries(conn, &entries).await?;
    db::loading::batches(conn, &batches).await?;
    for night in &worked.nights {
        settle(conn, ctx, id, night).await?;
    }
    Ok(())
}

/// What was answered about each count and what is left out of it; what waited is overtaken.
async fn settle(
    conn: &mut AsyncPgConnection,
    ctx: &Ctx,
    id: WriteId,
    night: &WorkedNight,
) -> Result<(), AppError> {
    let at = (&night.standing, night.date);
    if !night.counts.is_empty() {
        revisions::overtake(conn, ctx, at, night.revisions.iter(), State::Accepted).await?;
    }
    for count in &night.counts {
        let Fact { what, by, at: came } = &count.count;
        let (by, settled_at) = match (count.state(), what.asked) {
            (State::Accepted, _) if count.left_out.is_empty() => continue,
            (State::Accepted, _) | (_, Asked::LeftOut) => (Some(*by), *came),
            (_, Asked::CountedAgain(answered)) => {
                answer(conn, id, at, count, answered).await?;
                (Some(*by), answered)
            }
            (_, Asked::Unanswered(opened)) => (None, opened),
        };
        let left_out: Vec<_> = count.left_out.iter().collect();
        let settlement = Settlement {
            revision: count.number,
            settled: Settled::Accepted,
            left_out: &left_out,
            reason: None,
            by,
            at: settled_at,
        };
        db::settlements::add(conn, at.0, at.1, &settlement).await?;
    }
    Ok(())
}

/// That everything asked about a count was counted again, and is right.
async fn answer(
    conn: &mut AsyncPgConnection,
    write: WriteId,
    (standing, date): (&Standing, BusinessDate),
    count: &WorkedCount,
    at: DateTime<Utc>,
) -> Result<(), AppError> {
    let right = document(&Answer::CountedAgain { lines: Vec::new() })?;
    for check in count.checks.iter().filter(|check| check.asks()) {
        let (revision, by, check) = (count.number, count.count.by, check.id());
        let new = NewAnswer { revision, check: &check, answer: &right, by, at, write };
        db::answers::add(conn, standing, date, &new).await?;
    }
    Ok(())
}

async fn tallies(conn: &mut AsyncPgConnection, worked: &Worked) -> Result<(), AppError> {
    let pins = worked.nights.iter().filter_map(|night| {
        let WorkedNight { standing, date, known_at, begun, .. } = night;
        let key = Key { standing, date: *date, known_at: *known_at };
        begun.map(|at| PinRow::new(key, at))
    });
    db::loading::pins(conn, &pins.collect::<Vec<_>>()).await?;
    Ok(db::tallies::put(conn, &worked.rows).await?)
}

/// One row of the audit, which the store's manager sees too.
async fn note(
    conn: &mut AsyncPgConnection,
    ctx: &Ctx,
    id: WriteId,
    worked: &Worked,
    loaded: &Loaded,
) -> Result<(), AppError> {
    let dates = || worked.nights.iter().map(|night| night.date);
    let detail = json!({
        "write": id, "from": dates().min(), "to": dates().max(), "nights": loaded.nights,
        "counts": loaded.counts, "entries": loaded.entries, "till_batches": loaded.batches,
    });
    let (action, target) = (Action::Load.word(), format!("store {}", worked.store));
    Ok(db::audit::add(conn, ctx, action, &target, Some(&worked.store), Some(detail)).await?)
}

fn document(value: &impl serde::Serialize) -> Result<Value, AppError> {
    serde_json::to_value(value).map_err(|e| anyhow::Error::new(e).into())
}
