//! Cases, and what happened to them.

use chrono::{DateTime, NaiveDate, Utc};
use diesel::sql_types::{
    Array, BigInt, Date, Double, Jsonb, Nullable, Text, Timestamptz, Uuid as SqlUuid,
};
use diesel::{QueryResult, QueryableByName};
use diesel_async::{AsyncPgConnection, RunQueryDsl};
use serde::Serialize;
use serde_json::Value;
use uuid::Uuid;

use super::statement::statement;

/// A case as it was raised, and where its store stands now.
#[derive(Debug, Clone, PartialEq, Serialize, QueryableByName)]
#[expect(missing_docs, reason = "the columns of the table")]
pub struct CaseRow {
    #[diesel(sql_type = SqlUuid)]
    pub id: Uuid,
    #[diesel(sql_type = Text)]
    pub store_id: String,
    #[diesel(sql_type = Text)]
    pub district_id: String,
    #[diesel(sql_type = Text)]
    pub owner_id: String,
    #[diesel(sql_type = Text)]
    pub measure: String,
    #[diesel(sql_type = Text)]
    pub kind: String,
    #[diesel(sql_type = Date)]
    pub as_of: NaiveDate,
    #[diesel(sql_type = Date)]
    pub since: NaiveDate,
    #[diesel(sql_type = Double)]
    pub size: f64,
    #[diesel(sql_type = Nullable<Double>)]
    pub money_per_week: Option<f64>,
    #[diesel(sql_type = Jsonb)]
    pub seen: Value,
    #[diesel(sql_type = Timestamptz)]
    pub raised_at: DateTime<Utc>,
    #[diesel(sql_type = Text)]
    pub raised_in: String,
}

statement!(Raise<'a> { rows: &'a Value => Jsonb } = "cases/raise.sql");

/// Raises cases.
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
    /// Of a district, where stores stand now.
    pub district: Option<&'a str>,
    /// Of a store.
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
#[derive(Debug, Clone, PartialEq, QueryableByName)]
pub struct EventRow {
    /// To which.
    #[diesel(sql_type = SqlUuid)]
    pub case_id: Uuid,
    /// What.
    #[diesel(sql_type = Text)]
    pub kind: String,
    /// More of it.
    #[diesel(sql_type = Jsonb)]
    pub body: Value,
    /// When.
    #[diesel(sql_type = Timestamptz)]
    pub at: DateTime<Utc>,
    /// By whom; nobody, when the server did it.
    #[diesel(sql_type = Nullable<SqlUuid>)]
    pub by_person: Option<Uuid>,
}

statement!(Events<'a> { cases: &'a [Uuid] => Array<SqlUuid> } = "cases/events.sql");

/// What happened to cases, in the order it happened in.
///
/// # Errors
/// When the database cannot be reached.
pub async fn events(conn: &mut AsyncPgConnection, cases: &[Uuid]) -> QueryResult<Vec<EventRow>> {
    Events { cases }.load(conn).await
}

statement!(Add<'a> {
    case: Uuid => SqlUuid,
    kind: &'a str => Text,
    body: &'a Value => Jsonb,
    at: DateTime<Utc> => Timestamptz,
    by: Option<Uuid> => Nullable<SqlUuid>,
} = "cases/add.sql");

/// Adds what happened to a case.
///
/// # Errors
/// When the acting person or part may not.
pub async fn add(conn: &mut AsyncPgConnection, event: &EventRow) -> QueryResult<()> {
    let EventRow { case_id, kind, body, at, by_person } = event;
    Add { case: *case_id, kind, body, at: *at, by: *by_person }.execute(conn).await.map(|_| ())
}

statement!(Lock<'a> { id: &'a str => Text } = "cases/lock.sql");

/// Lets nobody else add to a case until the transaction ends.
///
/// # Errors
/// When the database cannot be reached.
pub async fn lock(conn: &mut AsyncPgConnection, case: Uuid) -> QueryResult<()> {
    Lock { id: &case.to_string() }.execute(conn).await.map(|_| ())
}

statement!(Follow<'a> { id: Uuid => SqlUuid, district: &'a str => Text } = "cases/follow.sql");

/// Puts a case where its store stands now.
///
/// # Errors
/// When the acting part may not.
pub async fn follow(conn: &mut AsyncPgConnection, case: Uuid, district: &str) -> QueryResult<()> {
    Follow { id: case, district }.execute(conn).await.map(|_| ())
}
