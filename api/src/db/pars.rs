//! Sets of standard pars, and their publications.

use chrono::{DateTime, NaiveDate, Utc};
use diesel::sql_types::{
    BigInt, Date, Integer, Jsonb, Nullable, Text, Timestamptz, Uuid as SqlUuid,
};
use diesel::{OptionalExtension, QueryResult, QueryableByName};
use diesel_async::{AsyncPgConnection, RunQueryDsl};
use parings_core::ids::ParSetId;
use serde_json::Value;
use uuid::Uuid;

use super::statement::statement;
use crate::db::schema::pg_advisory_xact_lock;

/// Key of the lock under which sets are revised and published; a number like any other.
const RECORDING: i64 = 0x7061_7273;

/// A revision of a set.
#[derive(Debug, Clone, QueryableByName)]
pub struct RevisionRow {
    /// The set.
    #[diesel(sql_type = Text)]
    pub set_code: String,
    /// Its number, from 1.
    #[diesel(sql_type = Integer)]
    pub revision: i32,
    /// What it says.
    #[diesel(sql_type = Jsonb)]
    pub body: Value,
    /// When it was recorded.
    #[diesel(sql_type = Timestamptz)]
    pub recorded_at: DateTime<Utc>,
    /// By whom.
    #[diesel(sql_type = SqlUuid)]
    pub recorded_by: Uuid,
}

/// A publication.
#[derive(Debug, Clone, QueryableByName)]
pub struct PublicationRow {
    /// Its id.
    #[diesel(sql_type = BigInt)]
    pub id: i64,
    /// The set.
    #[diesel(sql_type = Text)]
    pub set_code: String,
    /// The revision of it.
    #[diesel(sql_type = Integer)]
    pub revision: i32,
    /// The first business date.
    #[diesel(sql_type = Date)]
    pub valid_from: NaiveDate,
    /// When it was recorded.
    #[diesel(sql_type = Timestamptz)]
    pub recorded_at: DateTime<Utc>,
    /// By whom.
    #[diesel(sql_type = SqlUuid)]
    pub recorded_by: Uuid,
    /// Why.
    #[diesel(sql_type = Text)]
    pub reason: String,
    /// What it takes back.
    #[diesel(sql_type = Nullable<BigInt>)]
    pub rolls_back: Option<i64>,
}

#[derive(QueryableByName)]
struct Last {
    #[diesel(sql_type = Nullable<Timestamptz>)]
    at: Option<DateTime<Utc>>,
}

statement!(LastRecorded {} = "pars/last_recorded.sql");

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
    let last: Last = LastRecorded {}.get_result(conn).await?;
    Ok(last.at.map_or(now, |last| last.max(now)))
}

statement!(Latest<'a> { set: &'a str => Text } = "pars/latest.sql");

/// The last revision of a set.
///
/// # Errors
/// When the database cannot be reached.
pub async fn latest(
    conn: &mut AsyncPgConnection,
    set: &ParSetId,
) -> QueryResult<Option<RevisionRow>> {
    Latest { set: set.as_str() }.get_result(conn).await.optional()
}

statement!(Revision<'a> { set: &'a str => Text, revision: i32 => Integer } = "pars/revision.sql");

/// One revision of a set.
///
/// # Errors
/// When the database cannot be reached.
pub async fn revision(
    conn: &mut AsyncPgConnection,
    set: &ParSetId,
    revision: i32,
) -> QueryResult<Option<RevisionRow>> {
    Revision { set: set.as_str(), revision }.get_result(conn).await.optional()
}

statement!(Page<'a> { after: &'a str => Text, limit: i64 => BigInt } = "pars/page.sql");

/// The last revision of each set, in order of their codes, from after `after` on.
///
/// # Errors
/// When the database cannot be reached.
pub async fn page(
    conn: &mut AsyncPgConnection,
    after: &str,
    limit: i64,
) -> QueryResult<Vec<RevisionRow>> {
    Page { after, limit }.load(conn).await
}

statement!(AddRevision<'a> {
    set: &'a str => Text,
    revision: i32 => Integer,
    body: &'a Value => Jsonb,
    at: DateTime<Utc> => Timestamptz,
    by: Uuid => SqlUuid,
} = "pars/add_revision.sql");

/// Adds a revision of a set.
///
/// # Errors
/// When the acting person may not.
pub async fn add_revision(conn: &mut AsyncPgConnection, row: &RevisionRow) -> QueryResult<()> {
    AddRevision {
        set: &row.set_code,
        revision: row.revision,
        body: &row.body,
        at: row.recorded_at,
        by: row.recorded_by,
    }
    .execute(conn)
    .await
    .map(|_| ())
}

statement!(Publications { at: DateTime<Utc> => Timestamptz } = "pars/publications.sql");

/// Every publication known at a moment.
///
/// # Errors
/// When the database cannot be reached.
pub async fn publications(
    conn: &mut AsyncPgConnection,
    known_at: DateTime<Utc>,
) -> QueryResult<Vec<PublicationRow>> {
    Publications { at: known_at }.load(conn).await
}

statement!(Publish<'a> {
    set: &'a str => Text,
    revision: i32 => Integer,
    from: NaiveDate => Date,
    at: DateTime<Utc> => Timestamptz,
    by: Uuid => SqlUuid,
    reason: &'a str => Text,
    rolls_back: Option<i64> => Nullable<BigInt>,
} = "pars/publish.sql");

/// Adds a publication, whose id is made here, and answers with it.
///
/// # Errors
/// When the acting person may not.
pub async fn publish(
    conn: &mut AsyncPgConnection,
    new: &PublicationRow,
) -> QueryResult<PublicationRow> {
    let (at, by) = (new.recorded_at, new.recorded_by);
    Publish {
        set: &new.set_code,
        revision: new.revision,
        from: new.valid_from,
        at,
        by,
        reason: &new.reason,
        rolls_back: new.rolls_back,
    }
    .get_result(conn)
    .await
}
