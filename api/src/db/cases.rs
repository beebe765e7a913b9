//! Cases, and what happened to them.

use chrono::{DateTime, NaiveDate, Utc};
use diesel::prelude::*;
use diesel::sql_types::{BigInt, Jsonb, Nullable, Text, Timestamptz, Uuid as SqlUuid};
use diesel_async::{AsyncPgConnection, RunQueryDsl};
use serde::Serialize;
use serde_json::Value;
use uuid::Uuid;

use super::schema::{case_events, cases};
use super::statement::statement;

/// A case as it was raised.
#[derive(Debug, Clone, PartialEq, Serialize, QueryableByName)]
#[diesel(table_name = cases)]
#[expect(missing_docs, reason = "the columns of the table")]
pub struct CaseRow {
    pub id: Uuid,
    pub store_id: String,
    pub district_id: String,
    pub owner_id: String,
    pub measure: String,
    pub kind: String,
    pub as_of: NaiveDate,
    pub since: NaiveDate,
    pub size: f64,
    pub money_per_week: Option<f64>,
    pub seen: Value,
    pub raised_at: DateTime<Utc>,
    pub raised_in: String,
}

statement!(Raise<'a> { rows: &'a Value => Jsonb } = "cases/raise.sql");

/// Keeps cases that the nightly look raises.
///
/// # Errors
/// When the acting part may not.
pub async fn raise(conn: &mut AsyncPgConnection, cases: &[CaseRow]) -> QueryResult<()> {
    let rows = serde_json::to_value(cases)
        .map_err(|e| diesel::result::Error::SerializationError(Box::new(e)))?;
    Raise { rows: &rows }.execute(conn).await.map(|_| ())
}

/// Which cases are asked for.
#[derive(Debug, Clone, Copy, Default)]
pub struct Which<'a> {
    /// Only cases of this district.
    pub district: Option<&'a str>,
    /// Only cases of this store.
    pub store: Option<&'a str>,
    /// One by its id.
    pub id: Option<Uuid>,
    /// Raised since a moment.
    pub since: Option<DateTime<Utc>>,
}

statement!(List<'a> {
    district: Option<&'a str> => Nullable<Text>,
    store: Option<&'a str> => Nullable<Text>,
    one: Option<Uuid> => Nullable<SqlUuid>,
    since: Option<DateTime<Utc>> => Nullable<Timestamptz>,
    at: Option<DateTime<Utc>> => Nullable<Timestamptz>,
    id: Option<Uuid> => Nullable<SqlUuid>,
    limit: i64 => BigInt,
} = "cases/list.sql");

/// Cases, those raised last first, from after a key on.
///
/// # Errors
/// When the database cannot be reached.
pub async fn list(
    conn: &mut AsyncPgConnection,
    which: Which<'_>,
    after: Option<(DateTime<Utc>, Uuid)>,
    limit: i64,
) -> QueryResult<Vec<CaseRow>> {
    let Which { district, store, id, since } = which;
    let (at, last) = (after.map(|(at, _)| at), after.map(|(_, id)| id));
    List { district, store, one: id, since, at, id: last, limit }.load(conn).await
}

/// Something that happened to a case.
#[derive(Debug, Clone, PartialEq, Queryable, Selectable, Insertable)]
#[diesel(table_name = case_events, treat_none_as_default_value = false)]
pub struct EventRow {
    /// The case that it happened to.
    pub case_id: Uuid,
    /// The word of what happened.
    pub kind: String,
    /// What was said or found, as a document.
    pub body: Value,
    /// When it was recorded.
    pub at: DateTime<Utc>,
    /// By whom; nobody, when the server did it.
    pub by_person: Option<Uuid>,
}

/// What happened to cases, in the order it happened in.
///
/// # Errors
/// When the database cannot be reached.
pub async fn events(conn: &mut AsyncPgConnection, cases: &[Uuid]) -> QueryResult<Vec<EventRow>> {
    case_events::table
        .filter(case_events::case_id.eq_any(cases))
        .order(case_events::id)
        .select(EventRow::as_select())
        .load(conn)
        .await
}

/// Adds what happened to a case.
///
/// # Errors
/// When the acting person or part may not.
pub async fn add(conn: &mut AsyncPgConnection, event: &EventRow) -> QueryResult<()> {
    diesel::insert_into(case_events::table).values(event).execute(conn).await.map(|_| ())
}

statement!(Lock<'a> { id: &'a str => Text } = "cases/lock.sql");

/// Lets nobody else add to a case until the transaction ends.
///
/// # Errors
/// When the database cannot be reached.
pub async fn lock(conn: &mut AsyncPgConnection, case: Uuid) -> QueryResult<()> {
    Lock { id: &case.to_string() }.execute(conn).await.map(|_| ())
}
