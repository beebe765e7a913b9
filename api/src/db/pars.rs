//! Sets of standard pars, and their publications.

use chrono::{DateTime, NaiveDate, Utc};
use diesel::dsl::max;
use diesel::prelude::*;
use diesel_async::{AsyncPgConnection, RunQueryDsl};
use parings_core::ids::ParSetId;
use serde_json::Value;
use uuid::Uuid;

use crate::db::functions::pg_advisory_xact_lock;
use crate::db::schema::{par_publications as publications, par_revisions as revisions};

/// Key of the lock under which sets are revised and published; a number like any other.
const RECORDING: i64 = 0x7061_7273;

/// A revision of a set.
#[derive(Debug, Clone, Queryable, Selectable, Insertable)]
#[diesel(table_name = revisions)]
pub struct RevisionRow {
    /// The code of the set.
    pub set_code: String,
    /// Its number, from 1.
    pub revision: i32,
    /// What it says.
    pub body: Value,
    /// When it was recorded.
    pub recorded_at: DateTime<Utc>,
    /// The account that recorded it.
    pub recorded_by: Uuid,
}

/// A publication of a set, which puts a revision in force from a date on.
#[derive(Debug, Clone, Queryable, Selectable)]
#[diesel(table_name = publications)]
pub struct PublicationRow {
    /// Later publications have greater ones.
    pub id: i64,
    /// The code of the set.
    pub set_code: String,
    /// The revision of it.
    pub revision: i32,
    /// The first business date.
    pub valid_from: NaiveDate,
    /// When it was recorded.
    pub recorded_at: DateTime<Utc>,
    /// The account that published it.
    pub recorded_by: Uuid,
    /// Why it was published, in words.
    pub reason: String,
    /// What it takes back.
    pub rolls_back: Option<i64>,
}

/// Waits until no other transaction revises or publishes sets, keeps it so to this one's end, and says
/// when the next publication is recorded: as `clock` says then, but never before the last one.
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
        publications::table.select(max(publications::recorded_at)).get_result(conn).await?;
    Ok(last.map_or(now, |last| last.max(now)))
}

/// The last revision of a set.
///
/// # Errors
/// When the database cannot be reached.
pub async fn latest(
    conn: &mut AsyncPgConnection,
    set: &ParSetId,
) -> QueryResult<Option<RevisionRow>> {
    revisions::table
        .filter(revisions::set_code.eq(set.as_str()))
        .order(revisions::revision.desc())
        .select(RevisionRow::as_select())
        .first(conn)
        .await
        .optional()
}

/// One revision of a set.
///
/// # Errors
/// When the database cannot be reached.
pub async fn revision(
    conn: &mut AsyncPgConnection,
    set: &ParSetId,
    revision: i32,
) -> QueryResult<Option<RevisionRow>> {
    let one = revisions::table.find((set.as_str(), revision)).select(RevisionRow::as_select());
    one.first(conn).await.optional()
}

/// The last revision of each set, in order of their codes, from after `after` on.
///
/// # Errors
/// When the database cannot be reached.
pub async fn page(
    conn: &mut AsyncPgConnection,
    after: &str,
    limit: i64,
) -> QueryResult<Vec<RevisionRow>> {
    revisions::table
        .filter(revisions::set_code.gt(after))
        .distinct_on(revisions::set_code)
        .order((revisions::set_code, revisions::revision.desc()))
        .limit(limit)
        .select(RevisionRow::as_select())
        .load(conn)
        .await
}

/// Adds a revision of a set.
///
/// # Errors
/// When the acting person may not.
pub async fn add_revision(conn: &mut AsyncPgConnection, row: &RevisionRow) -> QueryResult<()> {
    diesel::insert_into(revisions::table).values(row).execute(conn).await.map(|_| ())
}

/// Every publication known at a moment.
///
/// # Errors
/// When the database cannot be reached.
pub async fn publications(
    conn: &mut AsyncPgConnection,
    known_at: DateTime<Utc>,
) -> QueryResult<Vec<PublicationRow>> {
    publications::table
        .filter(publications::recorded_at.le(known_at))
        .order(publications::id)
        .select(PublicationRow::as_select())
        .load(conn)
        .await
}

/// Adds a publication, whose id is made here, and answers with it.
///
/// # Errors
/// When the acting person may not.
pub async fn publish(
    conn: &mut AsyncPgConnection,
    new: &PublicationRow,
) -> QueryResult<PublicationRow> {
    diesel::insert_into(publications::table)
        .values((
            publications::set_code.eq(&new.set_code),
            publications::revision.eq(new.revision),
            publications::valid_from.eq(new.valid_from),
            publications::recorded_at.eq(new.recorded_at),
            publications::recorded_by.eq(new.recorded_by),
            publications::reason.eq(&new.reason),
            publications::rolls_back.eq(new.rolls_back),
        ))
        .returning(PublicationRow::as_returning())
        .get_result(conn)
        .await
}
