//! Approvals: what becomes of a change proposed after the lock is for another person to say.

use diesel_async::AsyncPgConnection;
use parings_core::access::Action;
use parings_core::calendar::BusinessDate;
use parings_core::ids::{StoreId, WriteId};
use parings_core::night::{RevisionEvent, State};
use serde::Serialize;
use serde_json::json;

use crate::app::Deps;
use crate::app::ground::writes::{self, Reply, Write};
use crate::app::night::facts::{self, Ground};
use crate::app::night::receipts::{self, Receipt};
use crate::app::night::revisions::{self, Proposal, Revision};
use crate::app::night::{entries, saving};
use crate::context::{Caller, Ctx};
use crate::db;
use crate::db::entries::Recording;
use crate::error::AppError;

/// A decision about a proposal.
#[derive(Debug, Clone, Serialize)]
pub struct Decision {
    /// The number of the revision that was proposed.
    pub revision: i32,
    /// Whether it is to stand.
    pub approve: bool,
    /// Why it is approved or declined, in words.
    pub reason: String,
}

/// Approves a proposed change of a locked night, or declines it. `show` makes the answer's body.
///
/// # Errors
/// 404 and 403 as the policy says, 403 for who proposed it; 409 when it does not wait.
pub async fn decide<W: Serialize>(
    deps: &Deps,
    caller: &Caller,
    write: Write,
    (store, date): (&StoreId, BusinessDate),
    decision: &Decision,
    show: impl Fn(&Ctx, Receipt) -> W,
) -> Result<Reply, AppError> {
    deps.writing(caller, store, async |conn, ctx| {
        let ground = facts::ground(deps, conn, ctx, Action::SettleNight, store, date).await?;
        writes::replay_or(conn, ctx, &write, decision, async |conn| {
            db::tallies::lock(conn, store).await?;
            let proposed = settle(conn, ctx, &ground, decision).await?;
            let receipt = match proposed {
                Some(proposed) => {
                    carry_out(conn, ctx, &ground, write.id, &proposed).await?;
                    saving::worked_out(deps, conn, ctx, &ground, None).await?
                }
                None => receipts::make(deps, conn, ctx, &ground.standing, date).await?,
            };
            saving::reply(receipt, State::Accepted, false, |receipt| show(ctx, receipt))
        })
        .await
    })
    .await
}

/// Says what becomes of a proposal; answers with it when it is to be carried out.
async fn settle(
    conn: &mut AsyncPgConnection,
    ctx: &Ctx,
    ground: &Ground,
    decision: &Decision,
) -> Result<Option<Revision>, AppError> {
    let Ground { date, standing, .. } = ground;
    let (date, store, number) = (*date, &standing.store, decision.revision);
    let revisions = revisions::of_night(conn, store, date).await?;
    let proposed = revisions.iter().find(|r| r.number == number && r.state == State::Proposed);
    let Some(proposed) = proposed else {
        return Err(AppError::Conflict(format!("revision {number} of {date} is no proposal")));
    };
    if proposed.submitted_by == ctx.actor.person {
        return Err(AppError::Forbidden {
            role: ctx.actor.role.word().to_owned(),
            action: "decide on what they proposed themselves",
        });
    }
    let event = if decision.approve { RevisionEvent::Approved } else { RevisionEvent::Declined };
    let (at, by) = ((standing, date), Some(ctx.actor.person));
    let reason = Some(decision.reason.as_str());
    let settled = revisions::settle(conn, at, proposed, event, by, ctx.now, reason).await?;
    if decision.approve {
        let others = revisions.iter().filter(|other| other.number != number);
        revisions::overtake(conn, ctx, at, others, State::Accepted).await?;
    }
    let action = if decision.approve { "approve night" } else { "decline night" };
    let detail = json!({
        "business_date": date, "revision": number, "becomes": settled, "reason": decision.reason,
    });
    let target = format!("night {store} {date}");
    db::audit::add(conn, ctx, action, &target, Some(store), Some(detail)).await?;
    Ok(decision.approve.then(|| proposed.clone()))
}

/// Makes and withdraws the entries that were proposed, in the name of who proposed them. Whoever
/// approved may not record in the store, so the rules do it, for this night and in this transaction.
async fn carry_out(
    conn: &mut AsyncPgConnection,
    ctx: &Ctx,
    ground: &Ground,
    write: WriteId,
    proposed: &Revision,
) -> Result<(), AppError> {
    let Ground { date, standing, .. } = ground;
    let (date, by) = (*date, proposed.submitted_by);
    let Proposal { entries: made, withdraw } = proposed.proposal.clone().unwrap_or_default();
    db::acting::act_for_rules(conn, &standing.store).await?;
    entries::take_back(conn, (standing, date), by, ctx.now, &withdraw).await?;
    let recording = Recording { standing, date, by, at: ctx.now, write };
    entries::insert(conn, &recording, &made).await
}
