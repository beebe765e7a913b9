//! Files of facts that head office brings in, each as a whole or not at all.

use chrono::{DateTime, Datelike, NaiveDate, Utc};
use diesel_async::AsyncPgConnection;
use parings_core::access::{Action, Target};
use parings_core::calendar::BusinessDate;
use parings_core::ids::{PersonId, WriteId};
use serde::Serialize;
use serde_json::json;
use sha2::{Digest, Sha256};
use uuid::{Uuid, uuid};

use crate::app::Deps;
use crate::app::ground::partitions;
use crate::app::ground::writes::{self, Reply, Write};
use crate::app::night::loading::{self, Existing, How, Kind, Loaded, Place, Refused, StoreFacts};
use crate::context::{Caller, Ctx};
use crate::db;
use crate::db::imports::ImportRow;
use crate::error::AppError;

/// What ids of files are made from, together with the hash of their content (RFC 9562, section 5.5).
const FILES: Uuid = uuid!("c3a7d1b0-52a7-4a0a-9d6e-6f2f8b1f1a44");

/// The id of a file, which follows from its content.
///
/// ```
/// use parings::app::office::imports::FileId;
///
/// let id = FileId::of(b"store,business_date\n");
/// assert_eq!(id.id, FileId::of(b"store,business_date\n").id);
/// assert_ne!(id.id, FileId::of(b"store,business_date\r\n").id);
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct FileId {
    /// Made from the content, so that the same file has the same id.
    pub id: Uuid,
    /// SHA-256 of the content.
    pub hash: [u8; 32],
}

impl FileId {
    /// Names a file by what it contains.
    pub fn of(content: &[u8]) -> Self {
        let hash: [u8; 32] = Sha256::digest(content).into();
        Self { id: Uuid::new_v5(&FILES, &hash), hash }
    }
}

/// A file to bring in.
#[derive(Debug, Clone)]
pub struct Import {
    /// What its content is known by.
    pub file: FileId,
    /// What it is called.
    pub name: String,
    /// What it holds.
    pub kind: Kind,
    /// How many rows it has.
    pub rows: usize,
    /// The facts it holds, store by store.
    pub stores: Vec<StoreFacts>,
}

impl Import {
    fn dates(&self) -> impl Iterator<Item = BusinessDate> {
        self.stores.iter().flat_map(|store| &store.nights).map(|night| night.date)
    }

    /// The first and the last date it is about; none of a file without rows.
    pub fn span(&self) -> Option<(BusinessDate, BusinessDate)> {
        Some((self.dates().min()?, self.dates().max()?))
    }
}

/// What is asked of an import.
#[derive(Debug, Clone, Copy)]
pub struct Manner<'a> {
    /// Whether everything is only looked at, and nothing written.
    pub dry_run: bool,
    /// Why nights that are on record are changed; without a reason they are refused.
    pub amend: Option<&'a str>,
}

/// A file on record.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Imported {
    /// Made from the content of the file.
    pub id: Uuid,
    /// What it was called.
    pub name: String,
    /// What it holds.
    pub kind: String,
    /// How many rows it has.
    pub rows: i64,
    /// Stores it is about.
    pub stores: i64,
    /// Nights it is about.
    pub nights: i64,
    /// Its first date.
    pub first: BusinessDate,
    /// The last business date it is about.
    pub last: BusinessDate,
    /// By whom it was brought in.
    pub by: PersonId,
    /// When it was brought in.
    pub at: DateTime<Utc>,
}

impl From<ImportRow> for Imported {
    fn from(row: ImportRow) -> Self {
        Self {
            id: row.id,
            name: row.name,
            kind: row.kind,
            rows: row.rows,
            stores: row.stores,
            nights: row.nights,
            first: row.first_date.into(),
            last: row.last_date.into(),
            by: PersonId(row.imported_by),
            at: row.imported_at,
        }
    }
}

/// What came of an import.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Outcome {
    /// The file went in before; nothing was done.
    Before(Imported),
    /// It was brought in.
    Done(Imported, Loaded),
    /// It was looked at, and could go in.
    Looked(Loaded),
}

/// Whether the caller may bring files in at all.
///
/// # Errors
/// 403 for all but head office.
pub async fn allow(deps: &Deps, caller: &Caller) -> Result<(), AppError> {
    deps.acting(caller, async |_, ctx| ctx.require(Action::Load, &Target::Network)).await
}

/// The file of this content, if it went in before.
///
/// # Errors
/// 403 for all but head office.
pub async fn find(
    deps: &Deps,
    caller: &Caller,
    file: FileId,
) -> Result<Option<Imported>, AppError> {
    deps.acting(caller, async |conn, ctx| {
        ctx.require(Action::Load, &Target::Network)?;
        Ok(db::imports::find(conn, file.id).await?.map(Imported::from))
    })
    .await
}

/// Brings a file in, all of it. `tell` makes the error that names the rows of what is refused; `step`
/// is told how many nights more are done.
///
/// # Errors
/// 403 for all but head office; 409 when a month has no place yet; what `tell` makes.
pub async fn run(
    deps: &Deps,
    caller: &Caller,
    import: Import,
    manner: Manner<'_>,
    tell: impl Fn(&[Refused]) -> AppError,
    step: impl FnMut(usize),
) -> Result<Outcome, AppError> {
    deps.acting(caller, async |conn, ctx| {
        take(deps, conn, ctx, caller, import, manner, &tell, step).await
    })
    .await
}

/// The same for a client that may send it again under its own id. `show` makes the answer's body.
///
/// # Errors
/// As [`run`], and 422 when the id was used for anything else.
pub async fn send<W: Serialize>(
    deps: &Deps,
    caller: &Caller,
    write: Write,
    import: Import,
    manner: Manner<'_>,
    tell: impl Fn(&[Refused]) -> AppError,
    show: impl Fn(&Outcome) -> W,
) -> Result<Reply, AppError> {
    if manner.dry_run {
        return Reply::changed(show(&run(deps, caller, import, manner, tell, |_| ()).await?));
    }
    let content = json!({
        "file": import.file.id, "kind": import.kind.word(), "amend": manner.amend,
    });
    deps.acting(caller, async |conn, ctx| {
        ctx.require(Action::Load, &Target::Network)?;
        writes::replay_or(conn, ctx, &write, &content, async |conn| {
            match take(deps, conn, ctx, caller, import, manner, &tell, |_| ()).await? {
                done @ Outcome::Done(..) => Reply::created(show(&done)),
                other => Reply::changed(show(&other)),
            }
        })
        .await
    })
    .await
}

#[expect(clippy::too_many_arguments, reason = "what a use case is given, and how it answers")]
async fn take(
    deps: &Deps,
    conn: &mut AsyncPgConnection,
    ctx: &Ctx,
    caller: &Caller,
    import: Import,
    manner: Manner<'_>,
    tell: &impl Fn(&[Refused]) -> AppError,
    step: impl FnMut(usize),
) -> Result<Outcome, AppError> {
    ctx.require(Action::Load, &Target::Network)?;
    let id = WriteId(import.file.id);
    // Two that bring the same file wait for each other here.
    db::writes::lock(conn, id).await?;
    if let Some(before) = db::imports::find(conn, id.0).await? {
        return Ok(Outcome::Before(before.into()));
    }
    have_place(conn, &import).await?;
    if manner.amend.is_none() {
        let refused = fed_before(conn, &import).await?;
        if !refused.is_empty() {
            return Err(tell(&refused));
        }
    }
    let row = row(ctx, &import, manner)?;
    if !manner.dry_run {
        db::imports::add(conn, &row).await?;
        let target = format!("file {}", row.name);
        let detail = json!({
            "import": row.id, "kind": row.kind, "rows": row.rows, "stores": row.stores,
            "nights": row.nights, "from": row.first_date, "to": row.last_date,
            "amend": manner.amend,
        });
        db::audit::add(conn, ctx, "import file", &target, None, Some(detail)).await?;
    }
    let how = How {
        write: (!manner.dry_run).then_some(id),
        existing: manner.amend.map_or(Existing::Refuse, Existing::Amend),
    };
    match loading::load(deps, conn, caller, how, import.stores, step).await? {
        Ok(loaded) if manner.dry_run => Ok(Outcome::Looked(loaded)),
        Ok(loaded) => Ok(Outcome::Done(row.into(), loaded)),
        Err(refused) => Err(tell(&refused)),
    }
}

fn row(ctx: &Ctx, import: &Import, manner: Manner<'_>) -> Result<ImportRow, AppError> {
    let whole = |count: usize| i64::try_from(count).map_err(|e| AppError::Internal(e.into()));
    let (first, last) =
        import.span().ok_or_else(|| AppError::Unreadable("the file has no rows".to_owned()))?;
    Ok(ImportRow {
        id: import.file.id,
        name: import.name.clone(),
        content_hash: import.file.hash.to_vec(),
        kind: import.kind.word().to_owned(),
        rows: whole(import.rows)?,
        stores: whole(import.stores.len())?,
        nights: whole(import.dates().count())?,
        first_date: first.into(),
        last_date: last.into(),
        reason: manner.amend.map(str::to_owned),
        imported_by: ctx.actor.person.0,
        imported_at: ctx.now,
    })
}

/// Facts lie in monthly partitions, which only the owner of the schema makes.
async fn have_place(conn: &mut AsyncPgConnection, import: &Import) -> Result<(), AppError> {
    let month = |date: BusinessDate| NaiveDate::from(date).with_day(1);
    let mut months: Vec<NaiveDate> = import.dates().filter_map(month).collect();
    months.sort_unstable();
    months.dedup();
    let missing = db::imports::months_without_place(conn, &months).await?;
    let Some(first) = missing.first() else { return Ok(()) };
    let (month, count) = (first.format("%Y-%m"), missing.len());
    Err(AppError::Conflict(format!(
        "the database has no place for {count} of the file's months, the first of them {month}: \
         the operator makes it with `parings migrate --since {first}`"
    )))
}

/// Nights of which a till sent the same before: sales without ids of their lines would count twice.
async fn fed_before(
    conn: &mut AsyncPgConnection,
    import: &Import,
) -> Result<Vec<Refused>, AppError> {
    let list = match import.kind {
        Kind::Nights | Kind::Entries => return Ok(Vec::new()),
        Kind::Sales | Kind::Tickets => import.kind.word(),
    };
    let mut refused = Vec::new();
    for facts in &import.stores {
        let dates: Vec<NaiveDate> = facts.nights.iter().map(|night| night.date.into()).collect();
        for date in db::imports::fed(conn, &facts.store, &dates, list).await? {
            let says = format!(
                "{list} of this night are on record; to add these to them, give a reason to amend"
            );
            let (store, date) = (facts.store.clone(), date.into());
            refused.push(Refused { store, date, at: Place::Night, says });
        }
    }
    Ok(refused)
}

/// Makes the place that a file needs, as the owner of the schema.
///
/// # Errors
/// When the owner cannot connect or a partition cannot be made.
pub async fn make_place(
    owner_url: &str,
    import: &Import,
    now: DateTime<Utc>,
) -> anyhow::Result<i32> {
    match import.span() {
        Some((first, _)) => partitions::make_since(owner_url, first.into(), now).await,
        None => Ok(0),
    }
}
