//! When a set takes effect.
//!
//! A publication starts on a business date that has begun in no store, each by its own clock. The
//! clock is asked under the lock that publications are recorded under, so none of them is recorded
//! for a date that begins meanwhile.

use chrono::{DateTime, Utc};
use diesel_async::AsyncPgConnection;
use parings_core::access::{Action, Target};
use parings_core::calendar::BusinessDate;
use parings_core::catalog::{Document, Kind};
use parings_core::ids::ParSetId;
use parings_core::pars::{Publication, Revision, earliest};
use serde::Serialize;
use serde_json::json;

use super::drafts::refuse;
use super::{Drafted, known, named, no_set, number, publication};
use crate::app::Deps;
use crate::app::ground::catalog;
use crate::app::ground::writes::{self, Expected, Reply, Write};
use crate::context::{Caller, Ctx};
use crate::db;
use crate::db::pars::PublicationRow;
use crate::error::AppError;

/// A publication that was made.
#[derive(Debug, Clone, PartialEq)]
pub struct Published {
    /// The set's revision, and from when on it holds.
    pub publication: Publication,
    /// Those that are to take its place later.
    pub then: Vec<Publication>,
}

/// That a set is to take effect.
#[derive(Debug, Clone)]
pub struct Publishing {
    /// The client's id of the write.
    pub write: Write,
    /// The code of the set whose last revision is published.
    pub code: ParSetId,
    /// The first business date.
    pub from: BusinessDate,
    /// Why it is published, in words.
    pub reason: String,
}

/// Publishes the last revision of a set from a date on. `show` makes the answer's body.
///
/// # Errors
/// 403 for all but head office; 404 when there is no such set; 412 when its last revision is not as
/// expected; 422 when the date has begun in some store, with the earliest that has not, or when the
/// set does not hold in the catalogue of that date.
pub async fn publish<W: Serialize>(
    deps: &Deps,
    caller: &Caller,
    expected: &Expected,
    publishing: &Publishing,
    show: impl Fn(Published) -> W,
) -> Result<Reply, AppError> {
    let Publishing { write, code, from, reason } = publishing;
    let content = json!([from, reason]);
    deps.acting(caller, async |conn, ctx| {
        ctx.require(Action::EditPars, &Target::Network)?;
        writes::replay_or(conn, ctx, write, &content, async |conn| {
            let recorded_at = db::pars::lock(conn, || deps.clock.now()).await?;
            let row = db::pars::latest(conn, code).await?.ok_or_else(|| no_set(code))?;
            let drafted = Drafted::try_from(row)?;
            expected.check(Some(&drafted.etag()))?;
            not_begun(conn, recorded_at, *from).await?;
            let known_at = db::reference::known(conn, ctx.now).await?;
            let catalog = catalog::in_force(deps, conn, *from, known_at, None).await?;
            refuse(drafted.set.flaws_in(&catalog))?;
            let new = NewPublication {
                revision: &drafted.revision,
                from: *from,
                recorded_at,
                reason,
                rolls_back: None,
            };
            let done = new.record(conn, ctx, "publish pars").await?;
            Reply::created(show(done))
        })
        .await
    })
    .await
}

/// Takes the last publication back: the set that was in force before it is put back from the first
/// date that has begun in no store on, or in its very place while it is still to come. `show` makes
/// the answer's body.
///
/// # Errors
/// 403 for all but head office; 409 when no other set was in force before, or it does not hold in the
/// catalogue any more.
pub async fn roll_back<W: Serialize>(
    deps: &Deps,
    caller: &Caller,
    write: Write,
    reason: &str,
    show: impl Fn(Published) -> W,
) -> Result<Reply, AppError> {
    deps.acting(caller, async |conn, ctx| {
        ctx.require(Action::EditPars, &Target::Network)?;
        writes::replay_or(conn, ctx, &write, &json!(reason), async |conn| {
            let recorded_at = db::pars::lock(conn, || deps.clock.now()).await?;
            let (_, earliest) = first_open(conn, recorded_at).await?;
            let known = known(conn, recorded_at).await?;
            let back = known.roll_back(earliest);
            let back = back.map_err(|nothing| AppError::Conflict(nothing.to_string()))?;
            let set = named(conn, &back.puts_back.revision).await?;
            let known_at = db::reference::known(conn, ctx.now).await?;
            let catalog = catalog::in_force(deps, conn, back.from, known_at, None).await?;
            if let Some(flaw) = set.flaws_in(&catalog).first() {
                return Err(AppError::Conflict(format!(
                    "{}, which was in force before, does not hold any more: {} at {}",
                    back.puts_back.revision.set, flaw.says, flaw.at
                )));
            }
            let new = NewPublication {
                revision: &back.puts_back.revision,
                from: back.from,
                recorded_at,
                reason,
                rolls_back: Some(back.takes_back.id.0),
            };
            let done = new.record(conn, ctx, "roll back pars").await?;
            Reply::created(show(done))
        })
        .await
    })
    .await
}

struct NewPublication<'a> {
    revision: &'a Revision,
    from: BusinessDate,
    recorded_at: DateTime<Utc>,
    reason: &'a str,
    rolls_back: Option<i64>,
}

impl NewPublication<'_> {
    async fn record(
        &self,
        conn: &mut AsyncPgConnection,
        ctx: &Ctx,
        action: &str,
    ) -> Result<Published, AppError> {
        let row = PublicationRow {
            id: 0,
            set_code: self.revision.set.to_string(),
            revision: number(self.revision)?,
            valid_from: self.from.into(),
            recorded_at: self.recorded_at,
            recorded_by: ctx.actor.person.0,
            reason: self.reason.to_owned(),
            rolls_back: self.rolls_back,
        };
        let publication = publication(db::pars::publish(conn, &row).await?)?;
        let detail = json!({ "publication": publication.id.0, "revision": self.revision.number,
            "valid_from": self.from, "reason": self.reason, "rolls_back": self.rolls_back });
        let target = format!("par set {}", self.revision.set);
        db::audit::add(conn, ctx, action, &target, None, Some(detail)).await?;
        let then = known(conn, self.recorded_at).await?.after(self.from).cloned().collect();
        Ok(Published { publication, then })
    }
}

/// The first date that has begun in no store, and the title of one in which the date before has.
async fn first_open(
    conn: &mut AsyncPgConnection,
    now: DateTime<Utc>,
) -> Result<(String, BusinessDate), AppError> {
    let today: BusinessDate = now.date_naive().into();
    let rows = db::reference::page(conn, Kind::Store, today, now, "", i64::MAX).await?;
    let mut stores = Vec::new();
    for row in &rows {
        if let Document::Store(store) = catalog::document(row)? {
            stores.push(store);
        }
    }
    let found = earliest(&stores, now);
    Ok(found.map_or_else(
        || ("the network".to_owned(), today.succ()),
        |(store, date)| (store.title.clone(), date),
    ))
}

async fn not_begun(
    conn: &mut AsyncPgConnection,
    now: DateTime<Utc>,
    from: BusinessDate,
) -> Result<(), AppError> {
    let (begun_in, earliest) = first_open(conn, now).await?;
    if from >= earliest {
        return Ok(());
    }
    Err(AppError::invalid(
        "/from",
        format!(
            "{from} has begun in {begun_in}: {earliest} is the earliest that has begun nowhere"
        ),
    ))
}

/// Every publication, the one recorded last first, from before `before` on.
///
/// # Errors
/// 403 for all but head office.
pub async fn history(
    deps: &Deps,
    caller: &Caller,
    known_at: Option<DateTime<Utc>>,
    before: Option<i64>,
    limit: usize,
) -> Result<Vec<Publication>, AppError> {
    deps.acting(caller, async |conn, ctx| {
        ctx.require(Action::EditPars, &Target::Network)?;
        let rows = db::pars::publications(conn, known_at.unwrap_or(ctx.now)).await?;
        let rows = rows.into_iter().rev().filter(|row| before.is_none_or(|id| row.id < id));
        rows.take(limit).map(publication).collect()
    })
    .await
}
