//! What head office drafts.

use diesel_async::AsyncPgConnection;
use parings_core::access::{Action, Target};
use parings_core::calendar::BusinessDate;
use parings_core::catalog::Flaw;
use parings_core::ids::ParSetId;
use parings_core::pars::{Difference, ParSet, Publication, difference as differs};
use serde::Serialize;
use serde_json::json;

use super::{Drafted, known, named, no_set};
use crate::app::Deps;
use crate::app::ground::catalog;
use crate::app::ground::writes::{self, Expected, Reply, Write};
use crate::context::{Caller, Ctx};
use crate::db;
use crate::db::pars::RevisionRow;
use crate::error::{AppError, Fault};

/// The last revision of each set, in order of their codes, from after `after` on.
///
/// # Errors
/// 403 for all but head office.
pub async fn list(
    deps: &Deps,
    caller: &Caller,
    after: Option<String>,
    limit: usize,
) -> Result<Vec<Drafted>, AppError> {
    let limit = i64::try_from(limit).map_err(|e| AppError::Internal(e.into()))?;
    let after = after.unwrap_or_default();
    deps.acting(caller, async |conn, ctx| {
        ctx.require(Action::EditPars, &Target::Network)?;
        let rows = db::pars::page(conn, &after, limit).await?;
        rows.into_iter().map(TryInto::try_into).collect()
    })
    .await
}

/// A revision of a set; the last where none is named.
///
/// # Errors
/// 403 for all but head office; 404 when it is not on record.
pub async fn find(
    deps: &Deps,
    caller: &Caller,
    code: &ParSetId,
    revision: Option<u32>,
) -> Result<Drafted, AppError> {
    deps.acting(caller, async |conn, ctx| {
        ctx.require(Action::EditPars, &Target::Network)?;
        let row = match revision.map(i32::try_from) {
            None => db::pars::latest(conn, code).await?,
            Some(Ok(number)) => db::pars::revision(conn, code, number).await?,
            Some(Err(_)) => None,
        };
        row.ok_or_else(|| no_set(code))?.try_into()
    })
    .await
}

/// What a set is to say.
#[derive(Debug, Clone)]
pub enum Draft {
    /// What the document sent with the request says.
    As(Box<ParSet>),
    /// What is in force today says, to begin with.
    CopyInForce,
}

/// Creates or revises a set. `show` makes the answer's body.
///
/// # Errors
/// 403 for all but head office; 412 when the last revision is not as expected; 422 with what is wrong
/// with the set by itself, or when there is nothing in force to copy. What it names is checked when
/// it is published.
pub async fn save<W: Serialize>(
    deps: &Deps,
    caller: &Caller,
    write: Write,
    expected: &Expected,
    code: &ParSetId,
    draft: Draft,
    show: impl Fn(Drafted) -> W,
) -> Result<Reply, AppError> {
    let content = match &draft {
        Draft::As(set) => json!(set),
        Draft::CopyInForce => json!("a copy"),
    };
    deps.acting(caller, async |conn, ctx| {
        ctx.require(Action::EditPars, &Target::Network)?;
        writes::replay_or(conn, ctx, &write, &content, async |conn| {
            db::pars::lock(conn, || deps.clock.now()).await?;
            let before = db::pars::latest(conn, code).await?;
            let etag = before.as_ref().map(|row| format!("\"{}\"", row.revision));
            expected.check(etag.as_deref())?;
            let set = match draft {
                Draft::As(set) => *set,
                Draft::CopyInForce => in_force_now(conn, ctx).await?,
            };
            refuse(set.flaws())?;
            let row = RevisionRow {
                set_code: code.to_string(),
                revision: before.as_ref().map_or(1, |row| row.revision + 1),
                body: serde_json::to_value(&set).map_err(|e| AppError::Internal(e.into()))?,
                recorded_at: ctx.now,
                recorded_by: ctx.actor.person.0,
            };
            db::pars::add_revision(conn, &row).await?;
            let detail = Some(json!({ "revision": row.revision }));
            db::audit::add(conn, ctx, "draft pars", &format!("par set {code}"), None, detail)
                .await?;
            let drafted = Drafted::try_from(row)?;
            let etag = drafted.etag();
            let reply = match before {
                Some(_) => Reply::changed(show(drafted))?,
                None => Reply::created(show(drafted))?,
            };
            Ok(reply.etag(etag))
        })
        .await
    })
    .await
}

async fn in_force_now(conn: &mut AsyncPgConnection, ctx: &Ctx) -> Result<ParSet, AppError> {
    let known = known(conn, ctx.now).await?;
    match known.in_force(ctx.today()) {
        Some(publication) => named(conn, &publication.revision).await,
        None => Err(AppError::invalid("/document", "missing: there is no set in force to copy")),
    }
}

/// Flaws of a document as faults of the request that has it.
pub(super) fn refuse(flaws: Vec<Flaw>) -> Result<(), AppError> {
    if flaws.is_empty() {
        return Ok(());
    }
    let fault = |flaw: Flaw| Fault::new(format!("/document{}", flaw.at), flaw.says);
    Err(AppError::Invalid(flaws.into_iter().map(fault).collect()))
}

/// A set beside the one in force on a date.
#[derive(Debug, Clone, PartialEq)]
pub struct Compared {
    /// The business date from which on it would be in force.
    pub on: BusinessDate,
    /// The set's last revision.
    pub drafted: Drafted,
    /// What is in force on the date, as known now.
    pub in_force: Option<Publication>,
    /// What would change.
    pub difference: Difference,
    /// What would not hold if it were published from the date on.
    pub flaws: Vec<Flaw>,
}

/// What a set would change if it were published from a date on (tomorrow in UTC where none is said).
///
/// # Errors
/// 403 for all but head office; 404 when there is no such set.
pub async fn difference(
    deps: &Deps,
    caller: &Caller,
    code: &ParSetId,
    on: Option<BusinessDate>,
) -> Result<Compared, AppError> {
    deps.acting(caller, async |conn, ctx| {
        ctx.require(Action::EditPars, &Target::Network)?;
        let on = on.unwrap_or_else(|| ctx.today().succ());
        let row = db::pars::latest(conn, code).await?.ok_or_else(|| no_set(code))?;
        let drafted = Drafted::try_from(row)?;
        let in_force = known(conn, ctx.now).await?.in_force(on).cloned();
        let before = match &in_force {
            Some(publication) => Some(named(conn, &publication.revision).await?),
            None => None,
        };
        let catalog = catalog::in_force(deps, conn, on, ctx.now, None).await?;
        let difference = differs(&catalog, before.as_ref(), &drafted.set);
        let flaws = drafted.set.flaws_in(&catalog);
        Ok(Compared { on, drafted, in_force, difference, flaws })
    })
    .await
}
