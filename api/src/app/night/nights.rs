//! The night: a manager submits the closing count, and amends it.
//!
//! A count that asks nothing is accepted. One that does is held: saved, shown, answered with its
//! questions, and displacing nothing. After the lock a count is proposed to another person.

use std::collections::{BTreeMap, BTreeSet};

use diesel_async::AsyncPgConnection;
use parings_core::access::Action;
use parings_core::calendar::BusinessDate;
use parings_core::checks::Check;
use parings_core::ids::{StoreId, WriteId};
use parings_core::night::{Count, Entry, Settled, State, check_count};
use parings_core::tally::RULES;
use serde::Serialize;
use serde_json::json;

use crate::app::Deps;
use crate::app::ground::writes::{self, Expected, Reply};
use crate::app::night::checks::{self, Coming};
use crate::app::night::facts::{self, Ground};
use crate::app::night::receipts::{self, Receipt, Since};
use crate::app::night::revisions::{self, Proposal, Revision, Settling, Withdrawal};
use crate::app::night::tallying::{Around, Worked};
use crate::app::night::{entries, tallying};
use crate::context::{Caller, Ctx};
use crate::db;
use crate::db::json::Json;
use crate::db::nights::RevisionRow;
use crate::db::settlements::Settlement;
use crate::error::{AppError, Fault};

/// What a manager submits.
#[derive(Serialize)]
pub struct Submission {
    /// The client's own id of it.
    #[serde(skip)]
    pub id: WriteId,
    /// The closing count.
    pub count: Count,
    /// Entries still to be made.
    pub entries: Vec<Entry>,
    /// Entries to be withdrawn.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub withdraw: Vec<Withdrawal>,
    /// Why, when it changes a count on record.
    pub reason: Option<String>,
}

/// A revision to be written.
pub(super) struct New<'a> {
    /// Its number.
    pub number: i32,
    /// The count.
    pub count: &'a Count,
    /// Why.
    pub reason: Option<&'a str>,
    /// What was found about it, divided.
    pub checks: &'a [Check],
    /// Changes of entries that wait with it: then it is proposed.
    pub proposal: Option<Proposal>,
    /// The write it comes with.
    pub write: WriteId,
}

/// Submits a night, or amends it. The count is one document, revised as a whole; entries are added
/// to those of others and replace none. `show` makes the answer's body.
///
/// # Errors
/// 404 and 403 as the policy says, 412 when the night is not as `expected`, 422 with every line
/// that cannot be taken, and then nothing is saved.
pub async fn submit<W: Serialize>(
    deps: &Deps,
    caller: &Caller,
    store: &StoreId,
    date: BusinessDate,
    expected: &Expected,
    submission: Submission,
    show: impl Fn(&Ctx, Receipt) -> W,
) -> Result<Reply, AppError> {
    let operation = format!("PUT /v1/stores/{store}/nights/{date}");
    deps.acting(caller, async |conn, ctx| {
        let ground = facts::ground(deps, conn, ctx, Action::SubmitNight, store, date).await?;
        writes::replay_or(conn, ctx, submission.id, &operation, &submission, async |conn| {
            ground.takes_facts(ctx.now, "/business_date")?;
            let (revision, state, around) = save(conn, ctx, &ground, expected, &submission).await?;
            let receipt = worked_out(deps, conn, ctx, &ground, Some(around)).await?;
            reply(receipt, state, revision == 1, |receipt| show(ctx, receipt))
        })
        .await
    })
    .await
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

/// Checks and saves the facts of a submission; answers with the number of the revision, the state it
/// came in, and what was read for its checks.
async fn save(
    conn: &mut AsyncPgConnection,
    ctx: &Ctx,
    ground: &Ground,
    expected: &Expected,
    submission: &Submission,
) -> Result<(i32, State, Around), AppError> {
    let Ground { date, standing, catalog, .. } = ground;
    let (date, store) = (*date, &standing.store);
    // Held to the end, so that of two who send the same revision one is told.
    db::tallies::lock(conn, store).await?;
    let revisions = revisions::of_night(conn, store, date).await?;
    let latest = revisions.last().map(|revision| revision.number);
    expected.check(latest.map(receipts::etag).as_deref())?;
    let mut faults = flaws(ground, &submission.count, "")?;
    if latest.is_some() && submission.reason.as_deref().is_none_or(|r| r.trim().is_empty()) {
        faults.push(Fault::new("/reason", "say why the count on record changes"));
    }
    faults.extend(entries::faults(catalog, store, &submission.entries, "/entries"));
    faults.extend(entries::discards(catalog, store, date, &submission.entries, "/entries"));
    let withdraw = &submission.withdraw;
    faults.extend(entries::cannot_withdraw(conn, store, date, withdraw, "/withdraw").await?);
    if !faults.is_empty() {
        return Err(AppError::Invalid(faults));
    }
    let proposal = ground.is_locked(ctx.now)?.then(|| Proposal {
        entries: submission.entries.clone(),
        withdraw: submission.withdraw.clone(),
    });
    if proposal.is_none() {
        let (made, id) = (&submission.entries, submission.id);
        entries::record(conn, ctx, catalog, standing, date, made, id, "/entries").await?;
        entries::take_back(conn, (standing, date), ctx.actor.person, ctx.now, withdraw).await?;
    }
    let count = &submission.count;
    let coming = Coming::Sent;
    let (checks, mut around) = checks::of(conn, ctx, ground, &revisions, count, coming).await?;
    let number = latest.map_or(1, |number| number + 1);
    let reason = submission.reason.as_deref();
    let new = New { number, count, reason, checks: &checks, proposal, write: submission.id };
    let state = write(conn, ctx, ground, &revisions, new, &mut around).await?;
    let action = if number == 1 { "submit night" } else { "amend night" };
    let detail = json!({
        "business_date": date, "revision": number, "state": state,
        "entries": submission.entries.len(), "withdrawn": submission.withdraw.len(),
        "reason": submission.reason,
    });
    let target = format!("night {store} {date}");
    db::audit::add(conn, ctx, action, &target, Some(store), Some(detail)).await?;
    Ok((number, state, around))
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
