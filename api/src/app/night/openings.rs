//! The next opening: a held count that nobody answered is accepted, its doubtful lines left out.
//! Nobody is kept from trading by a question, and no number is lost.

use diesel_async::AsyncPgConnection;
use parings_core::calendar::BusinessDate;
use parings_core::ids::StoreId;
use parings_core::night::{RevisionEvent, State};
use serde_json::json;

use crate::app::Deps;
use crate::app::ground::catalog;
use crate::app::night::facts::DAYS_BACK;
use crate::app::night::tallying::{self, Pin};
use crate::app::night::{checks, revisions};
use crate::db;
use crate::error::AppError;

/// Settles every held count whose store has opened since, each in a transaction of its own; answers
/// with how many it settled. One that cannot be is told in the log and does not keep the others.
///
/// # Errors
/// When the database cannot be reached.
pub async fn settle(deps: &Deps) -> Result<usize, AppError> {
    let now = deps.clock.now();
    let since = BusinessDate::from(now.date_naive()).plus_days(-DAYS_BACK);
    let held = deps.transaction(async |conn| Ok(db::settlements::held(conn, since).await?)).await?;
    let mut settled = 0;
    for (store, date, number) in held {
        match deps.transaction(async |conn| one(deps, conn, &store, date, number).await).await {
            Ok(done) => settled += usize::from(done),
            Err(error) => {
                tracing::error!(%store, %date, error.cause = ?error, "settle a held count");
            }
        }
    }
    Ok(settled)
}

/// Settles a count if its time has come; false when it has not, or somebody was faster.
async fn one(
    deps: &Deps,
    conn: &mut AsyncPgConnection,
    store: &StoreId,
    date: BusinessDate,
    number: i32,
) -> Result<bool, AppError> {
    db::acting::act_at_opening(conn, store, deps.clock.now()).await?;
    let now = deps.clock.now();
    db::tallies::lock(conn, store).await?;
    let revisions = revisions::of_night(conn, store, date).await?;
    let held = revisions.iter().find(|r| r.number == number && r.state == State::Held);
    let Some(held) = held.filter(|revision| revision.waits()) else { return Ok(false) };
    let known_at = db::tallies::pin(conn, store, date).await?.unwrap_or(now);
    let catalog = catalog::in_force(deps, conn, date, known_at, Some(store)).await?;
    if now < checks::settles_at(&catalog, store, date, held.recorded_at)? {
        return Ok(false);
    }
    let standing = catalog::standing(conn, date, now, store).await?;
    let at = (&standing, date);
    revisions::settle(conn, at, held, RevisionEvent::Opened, None, now, None).await?;
    let detail = json!({
        "business_date": date, "revision": number, "left_out": held.doubted(),
        "unanswered": held.open().map(|check| check.id()).collect::<Vec<_>>(),
    });
    let target = format!("night {store} {date}");
    db::audit::add_of_clock(conn, now, "accept night", &target, store, detail).await?;
    tallying::recompute(deps, conn, now, &standing, date, Pin::Keep).await?;
    Ok(true)
}
