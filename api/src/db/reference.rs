//! Versions of single reference documents.

use chrono::{DateTime, NaiveDate, Utc};
use diesel::dsl::max;
use diesel::prelude::*;
use diesel::sql_types::{BigInt, Date, Nullable, Text, Timestamptz};
use diesel_async::{AsyncPgConnection, RunQueryDsl};
use parings_core::calendar::BusinessDate;
use parings_core::catalog::{Document, Kind};
use parings_core::ids::PersonId;
use serde_json::Value;

use crate::db::catalog::VersionRow;
use crate::db::functions::pg_advisory_xact_lock;
use crate::db::schema::reference_versions as versions;
use crate::db::statement::statement;

/// Key of the lock under which versions are recorded; a number like any other.
pub const RECORDING: i64 = 0x7265_6665_7265_6e63;

/// Waits until no other transaction records versions, keeps it so to this one's end, and says when
/// the next version is recorded: as `clock` says then, but never before the last one. Ids and times
/// then rise together, which is what lets a catalogue be known by its greatest id; and none is
/// recorded at a moment of which [`known`] has said that all was on record.
///
/// # Errors
/// When the lock does not come in time.
pub async fn lock(
    conn: &mut AsyncPgConnection,
    clock: impl FnOnce() -> DateTime<Utc>,
) -> QueryResult<DateTime<Utc>> {
    diesel::select(pg_advisory_xact_lock(RECORDING)).execute(conn).await?;
    let now = clock();
    let last: Option<DateTime<Utc>> =
        versions::table.select(max(versions::recorded_at)).get_result(conn).await?;
    Ok(last.map_or(now, |last| last.max(now)))
}

statement!(Known { key: i64 => BigInt, now: DateTime<Utc> => Timestamptz } = "reference/known.sql");

#[derive(QueryableByName)]
struct Moment {
    #[diesel(sql_type = Nullable<Timestamptz>)]
    at: Option<DateTime<Utc>>,
}

/// The moment a night is pinned to by a request that began at `now`. Everything known then is on
/// record: now, with versions kept from being recorded until this transaction ends; or, while
/// somebody is recording one, when the last was recorded. Waits for nobody.
///
/// # Errors
/// When the database cannot be reached.
pub async fn known(conn: &mut AsyncPgConnection, now: DateTime<Utc>) -> QueryResult<DateTime<Utc>> {
    let found: Moment = Known { key: RECORDING, now }.get_result(conn).await?;
    Ok(found.at.map_or(now, |at| at.min(now)))
}

/// A version to record.
pub struct NewVersion<'a> {
    /// What kind of document it is.
    pub kind: Kind,
    /// The document's code.
    pub code: &'a str,
    /// The first business date it holds for.
    pub valid_from: BusinessDate,
    /// When it is recorded, as [`lock`] said.
    pub recorded_at: DateTime<Utc>,
    /// By whom; nobody for the starting values.
    pub recorded_by: Option<PersonId>,
    /// Why it is recorded, where somebody said.
    pub reason: Option<&'a str>,
    /// Whether it ends the document.
    pub retired: bool,
    /// What it says.
    pub document: &'a Document,
}

/// Records a version.
///
/// # Errors
/// When the acting person may not.
pub async fn add(conn: &mut AsyncPgConnection, new: &NewVersion<'_>) -> QueryResult<VersionRow> {
    let body = serde_json::to_value(new.document)
        .map_err(|e| diesel::result::Error::SerializationError(e.into()))?;
    let store = match new.document {
        Document::Store(store) => Some(store),
        _ => None,
    };
    diesel::insert_into(versions::table)
        .values((
            versions::kind.eq(new.kind.word()),
            versions::code.eq(new.code),
            versions::valid_from.eq(NaiveDate::from(new.valid_from)),
            versions::recorded_at.eq(new.recorded_at),
            versions::recorded_by.eq(new.recorded_by.map(|person| person.0)),
            versions::reason.eq(new.reason),
            versions::retired.eq(new.retired),
            versions::body.eq::<Value>(body),
            versions::store_id.eq(store.map(|_| new.code)),
            versions::district_id.eq(store.map(|s| s.district.as_str())),
            versions::owner_id.eq(store.map(|s| s.owner.as_str())),
        ))
        .returning(VersionRow::as_select())
        .get_result(conn)
        .await
}

statement!(Page<'a> {
    kind: &'a str => Text,
    on: NaiveDate => Date,
    known_at: DateTime<Utc> => Timestamptz,
    after: &'a str => Text,
    limit: i64 => BigInt,
} = "reference/page.sql");

statement!(PageOfStores<'a> {
    on: NaiveDate => Date,
    known_at: DateTime<Utc> => Timestamptz,
    after: &'a str => Text,
    limit: i64 => BigInt,
} = "reference/page_of_stores.sql");

/// The documents of a kind in force on a date as known at a moment, in order of their codes, from
/// after `after` on.
///
/// # Errors
/// When the database cannot be reached.
pub async fn page(
    conn: &mut AsyncPgConnection,
    kind: Kind,
    on: BusinessDate,
    known_at: DateTime<Utc>,
    after: &str,
    limit: i64,
) -> QueryResult<Vec<VersionRow>> {
    let on = on.into();
    match kind {
        Kind::Store => PageOfStores { on, known_at, after, limit }.load(conn).await,
        _ => Page { kind: kind.word(), on, known_at, after, limit }.load(conn).await,
    }
}

/// Every version of a document, the one recorded last first, from before `before` on.
///
/// # Errors
/// When the database cannot be reached.
pub async fn history(
    conn: &mut AsyncPgConnection,
    kind: Kind,
    code: &str,
    before: i64,
    limit: i64,
) -> QueryResult<Vec<VersionRow>> {
    versions::table
        .filter(versions::kind.eq(kind.word()))
        .filter(versions::code.eq(code))
        .filter(versions::id.lt(before))
        .order(versions::id.desc())
        .limit(limit)
        .select(VersionRow::as_select())
        .load(conn)
        .await
}

/// Whether anything was ever recorded for a document.
///
/// # Errors
/// When the database cannot be reached.
pub async fn is_known(conn: &mut AsyncPgConnection, kind: Kind, code: &str) -> QueryResult<bool> {
    let known =
        versions::table.filter(versions::kind.eq(kind.word())).filter(versions::code.eq(code));
    diesel::select(diesel::dsl::exists(known)).get_result(conn).await
}

/// Whether anything was ever recorded of a kind.
///
/// # Errors
/// When the database cannot be reached.
pub async fn has_any(conn: &mut AsyncPgConnection, kind: Kind) -> QueryResult<bool> {
    let of_kind = versions::table.filter(versions::kind.eq(kind.word()));
    diesel::select(diesel::dsl::exists(of_kind)).get_result(conn).await
}

/// Whether anything is on record at all.
///
/// # Errors
/// When the database cannot be reached.
pub async fn is_begun(conn: &mut AsyncPgConnection) -> QueryResult<bool> {
    diesel::select(diesel::dsl::exists(versions::table.select(versions::id))).get_result(conn).await
}

statement!(FromOn { on: NaiveDate => Date } = "reference/from_on.sql");

/// What holds on a date and what is to hold after it, all documents of the network: in order of
/// kind, code and first date. For head office, who sees everything.
///
/// # Errors
/// When the database cannot be reached.
pub async fn from_on(
    conn: &mut AsyncPgConnection,
    on: BusinessDate,
) -> QueryResult<Vec<VersionRow>> {
    FromOn { on: on.into() }.load(conn).await
}
