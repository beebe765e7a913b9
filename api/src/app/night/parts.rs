//! Parts of a count: several people count at once, each in other places, and each sends what they
//! counted when they are done. A part never takes anything away; where two counted the same shelf and
//! differ, both amounts are shown and one is chosen or counted again.

use parings_core::access::Action;
use parings_core::calendar::BusinessDate;
use parings_core::checks::{Check, CheckKind, merge};
use parings_core::ids::StoreId;
use parings_core::night::Count;
use serde::Serialize;
use serde_json::json;

use crate::app::Deps;
use crate::app::ground::writes::{self, Reply, Write};
use crate::app::night::checks::{self, Coming};
use crate::app::night::facts::{self, Ground};
use crate::app::night::receipts::Receipt;
use crate::app::night::revisions::{self, Proposal, Revision};
use crate::app::night::saving::{self, New};
use crate::context::{Caller, Ctx};
use crate::db;
use crate::error::AppError;

/// Puts a part of a count with what is on record of the night: its last revision, waiting or not. It
/// needs no precondition, since it overwrites nothing. `show` makes the answer's body.
///
/// # Errors
/// 404 and 403 as the policy says; 422 with every line that cannot be taken.
pub async fn add<W: Serialize>(
    deps: &Deps,
    caller: &Caller,
    write: Write,
    (store, date): (&StoreId, BusinessDate),
    part: &Count,
    show: impl Fn(&Ctx, Receipt) -> W,
) -> Result<Reply, AppError> {
    deps.writing(caller, store, async |conn, ctx| {
        let ground = facts::ground(deps, conn, ctx, Action::SubmitNight, store, date).await?;
        writes::replay_or(conn, ctx, &write, part, async |conn| {
            ground.takes_facts(ctx.now, "/business_date")?;
            // Held to the end, so that the second of two who send at once sees the first.
            db::tallies::lock(conn, store).await?;
            let Ground { catalog, standing, .. } = &ground;
            let revisions = revisions::of_night(conn, store, date).await?;
            let before = revisions.iter().rev().find(|r| r.waits() || r.is_accepted());
            let parts: Vec<Count> =
                before.map(|r| r.count.clone()).into_iter().chain([part.clone()]).collect();
            let open = before.map(still_differ).unwrap_or_default();
            let merged = merge(catalog, &parts).with_open(catalog, open);
            let faults = saving::flaws(&ground, &merged.count, "")?;
            if !faults.is_empty() {
                return Err(AppError::Invalid(faults));
            }
            let proposal = ground.is_locked(ctx.now)?.then(Proposal::default);
            let count = &merged.count;
            let coming = Coming::InParts(&merged.differ);
            let (checks, mut around) =
                checks::of(conn, ctx, &ground, &revisions, count, coming).await?;
            let number = revisions.last().map_or(1, |last| last.number + 1);
            let reason = (number > 1).then(|| format!("A part of the count: {}", places(part)));
            let reason = reason.as_deref();
            let new = New { number, count, reason, checks: &checks, proposal, write: write.id };
            let state = saving::write(conn, ctx, &ground, &revisions, new, &mut around).await?;
            let detail = json!({
                "business_date": date, "revision": number, "state": state, "places": places(part),
            });
            let target = format!("night {store} {date}");
            let of = Some(&standing.store);
            db::audit::add(conn, ctx, "add part of count", &target, of, Some(detail)).await?;
            let receipt = saving::worked_out(deps, conn, ctx, &ground, Some(around)).await?;
            saving::reply(receipt, state, number == 1, |receipt| show(ctx, receipt))
        })
        .await
    })
    .await
}

/// Where counters differed earlier, and nobody has said yet who is right.
fn still_differ(waiting: &Revision) -> Vec<Check> {
    // What was settled without an answer is asked no more.
    let open =
        waiting.open().filter(|check| waiting.waits() && check.kind == CheckKind::TwoCounters);
    open.cloned().collect()
}

/// The places that a part covers, in the order they were counted.
fn places(part: &Count) -> String {
    let mut places: Vec<&str> = part.lines.iter().map(|line| line.place.as_str()).collect();
    places.dedup();
    places.join(", ")
}
