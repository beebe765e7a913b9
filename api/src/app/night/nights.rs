//! The night: a manager submits the closing count, and amends it.
//!
//! A count that asks nothing is accepted. One that does is held: saved, shown, answered with its
//! questions, and displacing nothing. After the lock a count is proposed to another person.

use diesel_async::AsyncPgConnection;
use parings_core::access::Action;
use parings_core::calendar::BusinessDate;
use parings_core::ids::StoreId;
use parings_core::night::{Count, Entry, State};
use serde::Serialize;
use serde_json::json;

use crate::app::Deps;
use crate::app::ground::writes::{self, Expected, Reply, Write};
use crate::app::night::checks::{self, Coming};
use crate::app::night::entries;
use crate::app::night::facts::{self, Ground};
use crate::app::night::receipts::{self, Receipt};
use crate::app::night::revisions::{self, Proposal, Withdrawal};
use crate::app::night::saving::{self, New};
use crate::app::night::tallying::Around;
use crate::context::{Caller, Ctx};
use crate::db;
use crate::error::{AppError, Fault};

/// What a manager submits.
#[derive(Serialize)]
pub struct Submission {
    /// The client's id of the submission.
    #[serde(skip)]
    pub write: Write,
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
    deps.writing(caller, store, async |conn, ctx| {
        let ground = facts::ground(deps, conn, ctx, Action::SubmitNight, store, date).await?;
        writes::replay_or(conn, ctx, &submission.write, &submission, async |conn| {
            ground.takes_facts(ctx.now, "/business_date")?;
            let (revision, state, around) = save(conn, ctx, &ground, expected, &submission).await?;
            let receipt = saving::worked_out(deps, conn, ctx, &ground, Some(around)).await?;
            saving::reply(receipt, state, revision == 1, |receipt| show(ctx, receipt))
        })
        .await
    })
    .await
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
    let mut faults = saving::flaws(ground, &submission.count, "")?;
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
        let (made, id) = (&submission.entries, submission.write.id);
        entries::record(conn, ctx, catalog, standing, date, made, id, "/entries").await?;
        entries::take_back(conn, (standing, date), ctx.actor.person, ctx.now, withdraw).await?;
    }
    let count = &submission.count;
    let coming = Coming::Sent;
    let (checks, mut around) = checks::of(conn, ctx, ground, &revisions, count, coming).await?;
    let number = latest.map_or(1, |number| number + 1);
    let reason = submission.reason.as_deref();
    let new = New { number, count, reason, checks: &checks, proposal, write: submission.write.id };
    let state = saving::write(conn, ctx, ground, &revisions, new, &mut around).await?;
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
