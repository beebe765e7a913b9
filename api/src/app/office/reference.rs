//! Reference documents: reading them as of a date, and head office's changes to them.
//!
//! An ordinary change starts on a future business date. One that starts today or earlier is a
//! *restatement*: it corrects the past and needs a reason. "Today" is that of
//! [`Ctx::today`]. The first version of a document
//! may start in the past without a reason, since until then nothing was said that it could
//! contradict.
//!
//! A change is checked against the catalogue of its first date. The ETag it is to match is that of
//! the version in force on that date, which `?on=` reads.

use chrono::{DateTime, Utc};
use diesel_async::AsyncPgConnection;
use parings_core::access::{Action, Target};
use parings_core::calendar::BusinessDate;
use parings_core::catalog::{Catalog, Document, Kind};
use parings_core::ids::{PersonId, StoreId};
use serde::Serialize;
use serde_json::json;

use crate::app::Deps;
use crate::app::ground::catalog;
use crate::app::ground::names::Names;
use crate::app::ground::writes::{self, Expected, Reply, Write};
use crate::context::{Caller, Ctx};
use crate::db;
use crate::db::catalog::VersionRow;
use crate::db::reference::NewVersion;
use crate::error::{AppError, Fault};

/// A version of a document.
#[derive(Debug, Clone, PartialEq)]
pub struct Version {
    /// The number of the version among all that are on record.
    pub id: i64,
    /// What kind of document it is.
    pub kind: Kind,
    /// The document's code.
    pub code: String,
    /// The first business date it holds for.
    pub valid_from: BusinessDate,
    /// When it was recorded.
    pub recorded_at: DateTime<Utc>,
    /// By whom, where that is told; nobody for the starting values.
    pub recorded_by: Option<PersonId>,
    /// Why it was recorded, where somebody said.
    pub reason: Option<String>,
    /// Whether it ends the document.
    pub retired: bool,
    /// What it says; of one that ends the document, what the document said last.
    pub document: Document,
}

impl Version {
    /// Its ETag, with quotation marks.
    pub fn etag(&self) -> String {
        etag(self.id)
    }
}

fn etag(id: i64) -> String {
    format!("\"{id}\"")
}

impl TryFrom<VersionRow> for Version {
    type Error = AppError;

    fn try_from(row: VersionRow) -> Result<Self, AppError> {
        let document = catalog::document(&row)?;
        Ok(Self {
            id: row.id,
            kind: document.kind(),
            code: row.code,
            valid_from: row.valid_from.into(),
            recorded_at: row.recorded_at,
            recorded_by: row.recorded_by.map(PersonId),
            reason: row.reason,
            retired: row.retired,
            document,
        })
    }
}

/// As of when something is read: a business date, and a moment whose knowledge counts. Today and
/// now where nothing is said.
#[derive(Debug, Clone, Copy, Default)]
pub struct AsOf {
    /// The business date.
    pub on: Option<BusinessDate>,
    /// What was recorded later does not count.
    pub known_at: Option<DateTime<Utc>>,
}

impl AsOf {
    /// The date and moment meant.
    pub fn settle(self, ctx: &Ctx) -> (BusinessDate, DateTime<Utc>) {
        (self.on.unwrap_or_else(|| ctx.today()), self.known_at.unwrap_or(ctx.now))
    }
}

/// Leaves out who recorded a version, where that is not told to the one who acts.
async fn tell(
    conn: &mut AsyncPgConnection,
    ctx: &Ctx,
    versions: &mut [Version],
) -> Result<(), AppError> {
    let by = versions.iter().filter_map(|version| version.recorded_by);
    let names = Names::of(conn, ctx, &by.map(|person| person.0).collect::<Vec<_>>()).await?;
    for version in versions {
        version.recorded_by = version.recorded_by.and_then(|person| names.id(person));
    }
    Ok(())
}

/// The documents of a kind in force, in order of their codes, from after `after` on.
///
/// # Errors
/// When the database cannot be reached.
pub async fn list(
    deps: &Deps,
    caller: &Caller,
    kind: Kind,
    as_of: AsOf,
    after: Option<String>,
    limit: usize,
) -> Result<Vec<Version>, AppError> {
    let limit = i64::try_from(limit).map_err(|e| AppError::Internal(e.into()))?;
    let after = after.unwrap_or_default();
    deps.acting(caller, async |conn, ctx| {
        ctx.require(Action::ReadCatalogue, &Target::Network)?;
        let (on, known_at) = as_of.settle(ctx);
        let rows = db::reference::page(conn, kind, on, known_at, &after, limit).await?;
        let versions: Result<Vec<Version>, _> = rows.into_iter().map(TryInto::try_into).collect();
        let mut versions = versions?;
        tell(conn, ctx, &mut versions).await?;
        Ok(versions)
    })
    .await
}

/// One document in force.
///
/// # Errors
/// 404 when it is not in force or is not the caller's to see.
pub async fn find(
    deps: &Deps,
    caller: &Caller,
    kind: Kind,
    code: &str,
    as_of: AsOf,
) -> Result<Version, AppError> {
    deps.acting(caller, async |conn, ctx| {
        ctx.require(Action::ReadCatalogue, &Target::Network)?;
        let (on, known_at) = as_of.settle(ctx);
        let row = in_force(conn, kind, code, on, known_at).await?;
        let mut version = row.ok_or_else(|| not_in_force(kind, code))?.try_into()?;
        tell(conn, ctx, std::slice::from_mut(&mut version)).await?;
        Ok(version)
    })
    .await
}

/// Every version of a document that the caller may see, the one recorded last first, from before
/// `before` on.
///
/// # Errors
/// 404 when nothing was ever recorded for it.
pub async fn history(
    deps: &Deps,
    caller: &Caller,
    kind: Kind,
    code: &str,
    before: Option<i64>,
    limit: usize,
) -> Result<Vec<Version>, AppError> {
    let limit = i64::try_from(limit).map_err(|e| AppError::Internal(e.into()))?;
    deps.acting(caller, async |conn, ctx| {
        ctx.require(Action::ReadCatalogue, &Target::Network)?;
        let last = before.unwrap_or(i64::MAX);
        let rows = db::reference::history(conn, kind, code, last, limit).await?;
        if rows.is_empty() && before.is_none() {
            return Err(not_in_force(kind, code));
        }
        let versions: Result<Vec<Version>, _> = rows.into_iter().map(TryInto::try_into).collect();
        let mut versions = versions?;
        tell(conn, ctx, &mut versions).await?;
        Ok(versions)
    })
    .await
}

/// A change to a document, or its end.
#[derive(Debug, Clone)]
pub struct Change {
    /// The client's id of the write.
    pub write: Write,
    /// What kind of document it is.
    pub kind: Kind,
    /// The document's code.
    pub code: String,
    /// The first business date it holds for.
    pub valid_from: BusinessDate,
    /// Why; a restatement and an end need it.
    pub reason: Option<String>,
    /// What the document is to say; nothing ends it.
    pub document: Option<Document>,
}

/// Creates or changes a document from a business date on, or ends it. `show` makes the answer's
/// body.
///
/// # Errors
/// 403 for all but head office; 412 when the version in force on the date is not as expected; 422
/// with every flaw of the document, or when a reason is missing; 409 when others that name it could
/// not go on; 404 when what is to end is not in force.
pub async fn change<W: Serialize>(
    deps: &Deps,
    caller: &Caller,
    expected: &Expected,
    change: Change,
    show: impl Fn(Version) -> W,
) -> Result<Reply, AppError> {
    let Change { write, kind, code, valid_from, reason, document } = change;
    let content = json!([valid_from, reason, document]);
    deps.acting(caller, async |conn, ctx| {
        ctx.require(Action::EditCatalogue, &Target::Network)?;
        writes::replay_or(conn, ctx, &write, &content, async |conn| {
            let recorded_at = db::reference::lock(conn, || deps.clock.now()).await?;
            let before = in_force(conn, kind, &code, valid_from, recorded_at).await?;
            expected.check(before.as_ref().map(|row| etag(row.id)).as_deref())?;
            let restates = valid_from <= ctx.today();
            let explained = reason.is_some() || !db::reference::is_known(conn, kind, &code).await?;
            if restates && !explained {
                return Err(AppError::invalid(
                    "/reason",
                    "a change that starts today or earlier restates the past: say why",
                ));
            }
            let retired = document.is_none();
            let others = Others::from_on(conn, valid_from).await?;
            let document = match document {
                Some(document) => {
                    others.check(deps, conn, &code, &document, valid_from, recorded_at).await?;
                    document
                }
                None => {
                    others.let_go(kind, &code)?;
                    let last = before.as_ref().ok_or_else(|| not_in_force(kind, &code))?;
                    catalog::document(last)?
                }
            };
            let new = NewVersion {
                kind,
                code: &code,
                valid_from,
                recorded_at,
                recorded_by: Some(ctx.actor.person),
                reason: reason.as_deref(),
                retired,
                document: &document,
            };
            let version: Version = db::reference::add(conn, &new).await?.try_into()?;
            note(conn, ctx, &version, restates).await?;
            let etag = version.etag();
            let reply = match before {
                Some(_) => Reply::changed(show(version))?,
                None => Reply::created(show(version))?,
            };
            Ok(reply.etag(etag))
        })
        .await
    })
    .await
}

async fn in_force(
    conn: &mut AsyncPgConnection,
    kind: Kind,
    code: &str,
    on: BusinessDate,
    known_at: DateTime<Utc>,
) -> Result<Option<VersionRow>, AppError> {
    let row = match (kind, code.parse::<StoreId>()) {
        (Kind::Store, Ok(store)) => db::catalog::store(conn, &store, on, known_at).await?,
        (Kind::Store, Err(_)) => None,
        _ => db::catalog::one(conn, kind, code, on, known_at).await?,
    };
    Ok(row.filter(|row| !row.retired))
}

fn not_in_force(kind: Kind, code: &str) -> AppError {
    AppError::not_found(format!("\"{code}\" under {}", kind.word()))
}

async fn note(
    conn: &mut AsyncPgConnection,
    ctx: &Ctx,
    version: &Version,
    restates: bool,
) -> Result<(), AppError> {
    let action = match (version.retired, restates) {
        (true, _) => "retire reference",
        (false, true) => "restate reference",
        (false, false) => "change reference",
    };
    let target = format!("{} {}", version.kind.word(), version.code);
    let store = match version.kind {
        Kind::Store => version.code.parse::<StoreId>().ok(),
        _ => None,
    };
    let detail = json!({
        "version": version.id, "valid_from": version.valid_from, "reason": version.reason,
    });
    db::audit::add(conn, ctx, action, &target, store.as_ref(), Some(detail)).await?;
    Ok(())
}

/// Everything that holds on a date and is to hold after it.
struct Others(Vec<Version>);

impl Others {
    async fn from_on(conn: &mut AsyncPgConnection, on: BusinessDate) -> Result<Self, AppError> {
        let rows = db::reference::from_on(conn, on).await?;
        rows.into_iter().map(Version::try_from).collect::<Result<_, _>>().map(Self)
    }

    /// Those that name a document, now or later.
    fn naming(&self, kind: Kind, code: &str) -> impl Iterator<Item = &Version> {
        let named = (kind, code.to_owned());
        self.0.iter().filter(move |other| {
            !other.retired && other.document.names(&other.code).contains(&named)
        })
    }

    /// Whether a document may end: nobody names it.
    fn let_go(&self, kind: Kind, code: &str) -> Result<(), AppError> {
        let mut naming: Vec<_> = self.naming(kind, code).map(called).collect();
        naming.dedup();
        if naming.is_empty() {
            return Ok(());
        }
        Err(AppError::Conflict(format!(
            "\"{code}\" under {} is still named by {}",
            kind.word(),
            naming.join(", ")
        )))
    }

    /// Whether a document holds in the catalogue of its first date, and whether those that name it
    /// still do with it.
    async fn check(
        &self,
        deps: &Deps,
        conn: &mut AsyncPgConnection,
        code: &str,
        document: &Document,
        on: BusinessDate,
        known_at: DateTime<Utc>,
    ) -> Result<(), AppError> {
        let found = catalog::in_force(deps, conn, on, known_at, None).await?;
        let mut faults: Vec<_> = found
            .flaws(code, document)
            .into_iter()
            .map(|flaw| Fault::new(format!("/document{}", flaw.at), flaw.says))
            .collect();
        let ends = self.0.iter().filter(|other| other.retired && other.valid_from > on);
        let named = document.names(code);
        for end in ends.filter(|end| named.contains(&(end.kind, end.code.clone()))) {
            let says = format!("{} is retired from {} on", called(end), end.valid_from);
            faults.push(Fault::new("/document", says));
        }
        if !faults.is_empty() {
            return Err(AppError::Invalid(faults));
        }
        let mut with = Catalog::clone(&found);
        with.put(code, document.clone()).map_err(|e| AppError::Internal(e.into()))?;
        let mut broken: Vec<String> = Vec::new();
        for other in self.naming(document.kind(), code).filter(|other| other.code != code) {
            let had = found.flaws(&other.code, &other.document);
            let has = with.flaws(&other.code, &other.document);
            if let Some(new) = has.iter().find(|flaw| !had.contains(flaw)) {
                broken.push(format!("{} ({})", called(other), new.says));
            }
        }
        if broken.is_empty() {
            return Ok(());
        }
        Err(AppError::Conflict(format!("with this, these would not hold: {}", broken.join("; "))))
    }
}

fn called(version: &Version) -> String {
    format!("{} {}", version.kind.word(), version.code)
}
