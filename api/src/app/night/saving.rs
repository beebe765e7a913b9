//! What every change of a night's count ends with, however it came: the revision is saved in its state, the
//! night is worked out again, and its receipt is the answer.

use std::collections::{BTreeMap, BTreeSet};

use diesel_async::AsyncPgConnection;
use parings_core::checks::Check;
use parings_core::ids::WriteId;
use parings_core::night::{Count, Settled, State, check_count};
use parings_core::tally::RULES;
use serde::Serialize;

use crate::app::Deps;
use crate::app::ground::writes::Reply;
use crate::app::night::facts::Ground;
use crate::app::night::receipts::{self, Receipt, Since};
use crate::app::night::revisions::{self, Proposal, Revision, Settling};
use crate::app::night::tallying::{self, Around, Worked};
use crate::context::Ctx;
use crate::db;
use crate::db::json::Json;
use crate::db::nights::RevisionRow;
use crate::db::settlements::Settlement;
use crate::error::{AppError, Fault};

/// A revision to be written.
pub(super) struct New<'a> {
    /// The number of the revision within its night.
    pub number: i32,
    /// The count as typed.
    pub count: &'a Count,
    /// Why the count is amended; none of the first.
    pub reason: Option<&'a str>,
    /// What was found about it, divided.
    pub checks: &'a [Check],
    /// Changes of entries that wait with it: then it is proposed.
    pub proposal: Option<Proposal>,
    /// The write it comes with.
    pub write: WriteId,
}

/// What only the rows themselves prove impossible in a count; `at` is where the request has it.
///
/// # Errors
/// When the store is in no catalogue.
pub(super) fn flaws(ground: &Ground, count: &Count, at: &str) -> Result<Vec<Fault>, AppError> {
    let Ground { date, standing, catalog, .. } = ground;
    let place = tallying::in_catalog(catalog, &standing.store)?;
    let flaws = check_count(catalog, place, *date, count).into_iter();
    Ok(flaws.map(|flaw| Fault::new(format!("{at}{}", flaw.at), flaw.says)).collect())
}

/// Writes a revision in the state that its checks give it, in the place of those that wait; `around`,
/// what was read for the checks, knows of it from then on.
///
/// # Errors
/// When the acting person may not, or the database cannot be reached.
pub(super) async fn write(
    conn: &mut AsyncPgConnection,
    ctx: &Ctx,
    ground: &Ground,
    revisions: &[Revision],
    new: New<'_>,
    around: &mut Around,
) -> Result<State, AppError> {
    let Ground { date, standing, .. } = ground;
    let New { number, count, reason, checks, proposal, write } = new;
    let state = match &proposal {
        Some(_) => State::Proposed,
        None if checks.iter().any(Check::asks) => State::Held,
        None => State::Accepted,
    };
    let row = RevisionRow {
        revision: number,
        body: Json(count.clone()),
        reason: reason.map(str::to_owned),
        state: state.word().to_owned(),
        checks: revisions::kept(checks)?,
        proposal: proposal
            .as_ref()
            .map(serde_json::to_value)
            .transpose()
            .map_err(anyhow::Error::new)?,
        submitted_by: ctx.actor.person.0,
        recorded_at: ctx.now,
    };
    db::nights::add_revision(conn, standing, *date, write, &row).await?;
    revisions::overtake(conn, ctx, (standing, *date), revisions.iter(), state).await?;
    let beyond = checks.iter().filter(|check| check.is_beyond());
    let doubted: BTreeSet<_> = beyond.flat_map(|check| check.doubted(count)).collect();
    let mut settled = None;
    if state == State::Accepted && !doubted.is_empty() {
        // Nothing is asked, and something is left out all the same.
        let left_out: Vec<_> = doubted.iter().collect();
        let (by, at) = (Some(ctx.actor.person), ctx.now);
        let settlement = Settlement {
            revision: number,
            settled: Settled::Accepted,
            left_out: &left_out,
            reason: None,
            by,
            at,
        };
        db::settlements::add(conn, standing, *date, &settlement).await?;
        let (left_out, settling) = (doubted.clone(), Settled::Accepted);
        settled = Some(Settling { settled: settling, left_out, reason: None, by, at });
    }
    around.revisions = revisions.is_empty().then(|| {
        vec![Revision {
            number,
            count: count.clone(),
            reason: reason.map(str::to_owned),
            state,
            checks: checks.to_vec(),
            proposal,
            submitted_by: ctx.actor.person,
            recorded_at: ctx.now,
            settlement: settled,
            answers: BTreeMap::new(),
        }]
    });
    around.now_stands((state == State::Accepted).then_some((number, count, doubted)));
    Ok(state)
}

/// Works the night out again and makes its receipt, for who holds the lock of the store and may have
/// read `around` under it. The rules act from here on.
///
/// # Errors
/// When facts and reference data do not fit.
pub(super) async fn worked_out(
    deps: &Deps,
    conn: &mut AsyncPgConnection,
    ctx: &Ctx,
    ground: &Ground,
    mut around: Option<Around>,
) -> Result<Receipt, AppError> {
    let Ground { date, standing, .. } = ground;
    let revisions = around.as_mut().and_then(|around| around.revisions.take());
    let worked = tallying::recompute_read(deps, conn, ctx.now, standing, *date, around);
    let Worked { night, spans, samples, .. } = worked.await?;
    let revisions = match revisions {
        Some(revisions) => revisions,
        None => revisions::of_night(conn, &standing.store, *date).await?,
    };
    let since = Since { rules: RULES, spans, samples, revisions };
    receipts::of(&standing.store, *date, night, since)
}

/// The answer to what changed a night: 202 while it waits for somebody.
///
/// # Errors
/// When the body is not JSON.
pub(super) fn reply<W: Serialize>(
    receipt: Receipt,
    state: State,
    is_new: bool,
    show: impl FnOnce(Receipt) -> W,
) -> Result<Reply, AppError> {
    let etag = receipt.etag();
    let body = show(receipt);
    let reply = match state {
        State::Held | State::Proposed => Reply::accepted(body),
        State::Accepted if is_new => Reply::created(body),
        State::Accepted => Reply::changed(body),
    }?;
    Ok(match etag {
        Some(etag) => reply.etag(etag),
        None => reply,
    })
}
