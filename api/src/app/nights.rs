//! The night: a manager submits the closing count, and amends it.

use chrono::{DateTime, Utc};
use diesel_async::AsyncPgConnection;
use parings_core::access::{Action, Target};
use parings_core::calendar::BusinessDate;
use parings_core::ids::{PersonId, StoreId, WriteId};
use parings_core::night::{Count, Entry, check_count};
use serde::Serialize;
use serde_json::json;

use crate::app::facts::{self, Ground};
use crate::app::receipts::{self, Receipt};
use crate::app::tallying::Pin;
use crate::app::writes::{self, Expected, Reply};
use crate::app::{Deps, audit, catalog, entries, tallying};
use crate::context::{Caller, Ctx};
use crate::db;
use crate::db::nights::{RevisionRow, State};
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
    let operation = format!("PUT /v1/stores/{store}/nights/{date}");
    deps.acting(caller, async |conn, ctx| {
        let ground = facts::ground(deps, conn, ctx, Action::SubmitNight, store, date).await?;
        writes::replay_or(conn, ctx, submission.id, &operation, &submission, async |conn| {
            ground.takes_facts(ctx.now, "/business_date")?;
            let revision = save(conn, ctx, &ground, expected, &submission).await?;
            let worked = tallying::recompute(deps, conn, ctx, &ground.standing, date, Pin::Keep);
            let (night, _) = worked.await?;
            let receipt = receipts::stored(conn, store, date, night).await?;
            let body = show(ctx, receipt);
            let reply = if revision == 1 { Reply::created(body) } else { Reply::changed(body) };
            Ok(reply?.etag(receipts::etag(revision)))
        })
        .await
    })
    .await
}

/// Checks and saves the facts of a submission; answers with the number of the revision.
async fn save(
    conn: &mut AsyncPgConnection,
    ctx: &Ctx,
    ground: &Ground,
    expected: &Expected,
    submission: &Submission,
) -> Result<i32, AppError> {
    let Ground { date, standing, catalog } = ground;
    let (date, store) = (*date, &standing.store);
    // Held to the end, so that of two who send the same revision one is told.
    db::tallies::lock(conn, store).await?;
    let latest = db::nights::latest(conn, store, date).await?;
    expected.check(latest.as_ref().map(|row| receipts::etag(row.revision)).as_deref())?;
    let place = tallying::in_catalog(catalog, store)?;
    let mut faults: Vec<Fault> = check_count(catalog, place, date, &submission.count)
        .into_iter()
        .map(|flaw| Fault::new(flaw.at, flaw.says))
        .collect();
    if latest.is_some() && submission.reason.as_deref().is_none_or(|r| r.trim().is_empty()) {
        faults.push(Fault::new("/reason", "say why the count on record changes"));
    }
    faults.extend(entries::faults(catalog, store, &submission.entries, "/entries"));
    if !faults.is_empty() {
        return Err(AppError::Invalid(faults));
    }
    let revision = latest.map_or(1, |row| row.revision + 1);
    let row = RevisionRow {
        revision,
        body: serde_json::to_value(&submission.count).map_err(anyhow::Error::new)?,
        reason: submission.reason.clone(),
        state: State::Accepted.word().to_owned(),
        checks: json!([]),
        proposal: None,
        submitted_by: ctx.actor.person.0,
        recorded_at: ctx.now,
    };
    db::nights::add_revision(conn, standing, date, submission.id, &row).await?;
    let (made, id) = (&submission.entries, submission.id);
    entries::record(conn, ctx, catalog, standing, date, made, id, "/entries").await?;
    let action = if revision == 1 { "submit night" } else { "amend night" };
    let detail = json!({
        "business_date": date, "revision": revision, "entries": submission.entries.len(),
        "reason": submission.reason,
    });
    let target = format!("night {store} {date}");
    db::audit::add(conn, ctx, action, &target, Some(store), Some(detail)).await?;
    Ok(revision)
}

/// A revision of a night's count.
pub struct Revision {
    /// Its number.
    pub number: i32,
    /// The count as typed.
    pub count: Count,
    /// Why it was made.
    pub reason: Option<String>,
    /// Who submitted it; shown to the store alone.
    pub submitted_by: Option<PersonId>,
    /// When.
    pub recorded_at: DateTime<Utc>,
}

/// Every revision of a night's count, oldest first.
///
/// # Errors
/// 404 and 403 as the policy says.
pub async fn revisions(
    deps: &Deps,
    caller: &Caller,
    store: &StoreId,
    date: BusinessDate,
) -> Result<Vec<Revision>, AppError> {
    deps.acting(caller, async |conn, ctx| {
        let standing = catalog::standing(conn, date, ctx.now, store).await?;
        ctx.require(Action::ReadNight, &Target::Store(&standing))?;
        audit::note_reading(conn, ctx, Action::ReadNight, &standing, date).await?;
        let named = ctx.sees_names();
        let shown = |row: RevisionRow| {
            Ok(Revision {
                number: row.revision,
                count: serde_json::from_value(row.body).map_err(anyhow::Error::new)?,
                reason: row.reason,
                submitted_by: named.then_some(PersonId(row.submitted_by)),
                recorded_at: row.recorded_at,
            })
        };
        db::nights::revisions(conn, store, date).await?.into_iter().map(shown).collect()
    })
    .await
}
