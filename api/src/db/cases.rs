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

statement!(Raise { rows: &'a Value } =
    "INSERT INTO cases SELECT * FROM jsonb_populate_recordset(NULL::cases, ", rows: Jsonb, ")");

/// Raises cases.
///
/// # Errors
/// When the acting part may not.
pub async fn raise(conn: &mut AsyncPgConnection, cases: &[CaseRow]) -> QueryResult<()> {
    let rows = serde_json::to_value(cases)
        .map_err(|e| diesel::result::Error::SerializationError(Box::new(e)))?;
    Raise::new(&rows).execute(conn).await.map(|_| ())
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

statement!(List { district: Option<&'a str>, store: Option<&'a str>, one: Option<Uuid>,
    since: Option<DateTime<Utc>>, at: Option<DateTime<Utc>>, id: Option<Uuid>, limit: i64 } =
    "SELECT c.* FROM cases c, (SELECT ", district: Nullable<Text>, " AS district, ",
    store: Nullable<Text>, " AS store, ", one: Nullable<SqlUuid>, " AS one, ",
    since: Nullable<Timestamptz>, " AS since, ", at: Nullable<Timestamptz>, " AS at, ", id: Nullable<SqlUuid>, " AS id) AS asked
     WHERE (asked.district IS NULL OR c.district_id = asked.district)
       AND (asked.store IS NULL OR c.store_id = asked.store)
       AND (asked.one IS NULL OR c.id = asked.one)
       AND (asked.since IS NULL OR c.raised_at >= asked.since)
       AND (asked.id IS NULL OR (c.raised_at, c.id) < (asked.at, asked.id))
     ORDER BY c.raised_at DESC, c.id DESC LIMIT ", limit: BigInt, "");

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
    List::new(district, store, id, since, at, last, limit).load(conn).await
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

statement!(Events { cases: &'a [Uuid] } =
    "SELECT case_id, kind, body, at, by_person FROM case_events
     WHERE case_id = ANY (", cases: Array<SqlUuid>, ") ORDER BY id");

/// What happened to cases, in the order it happened in.
///
/// # Errors
/// When the database cannot be reached.
pub async fn events(conn: &mut AsyncPgConnection, cases: &[Uuid]) -> QueryResult<Vec<EventRow>> {
    Events::new(cases).load(conn).await
}

statement!(Add { case: Uuid, kind: &'a str, body: &'a Value, at: DateTime<Utc>,
    by: Option<Uuid> } =
    "INSERT INTO case_events (case_id, kind, body, at, by_person) VALUES (", case: SqlUuid, ", ",
    kind: Text, ", ", body: Jsonb, ", ", at: Timestamptz, ", ", by: Nullable<SqlUuid>, ")");

/// Adds what happened to a case.
///
/// # Errors
/// When the acting person or part may not.
pub async fn add(conn: &mut AsyncPgConnection, event: &EventRow) -> QueryResult<()> {
    let EventRow { case_id, kind, body, at, by_person } = event;
    Add::new(*case_id, kind, body, *at, *by_person).execute(conn).await.map(|_| ())
}

statement!(Lock { id: &'a str } =
    "SELECT pg_advisory_xact_lock(hashtextextended('case ' || ", id: Text, ", 0)) IS NULL");

/// Lets nobody else add to a case until the transaction ends.
///
/// # Errors
/// When the database cannot be reached.
pub async fn lock(conn: &mut AsyncPgConnection, case: Uuid) -> QueryResult<()> {
    Lock::new(&case.to_string()).execute(conn).await.map(|_| ())
}

statement!(Follow { id: Uuid, district: &'a str } =
    "UPDATE cases SET district_id = ", district: Text, " WHERE id = ", id: SqlUuid, "");

/// Puts a case where its store stands now.
///
/// # Errors
/// When the acting part may not.
pub async fn follow(conn: &mut AsyncPgConnection, case: Uuid, district: &str) -> QueryResult<()> {
    Follow::new(case, district).execute(conn).await.map(|_| ())
}
