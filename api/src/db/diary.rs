//! The diaries of stores.

use chrono::{DateTime, NaiveDate, Utc};
use diesel::sql_types::{BigInt, Bool, Date, Nullable, Text, Timestamptz, Uuid as SqlUuid};
use diesel::{QueryResult, QueryableByName};
use diesel_async::{AsyncPgConnection, RunQueryDsl};
use parings_core::calendar::DateSpan;
use uuid::Uuid;

use super::statement::statement;

/// An entry.
#[derive(Debug, Clone, PartialEq, Eq, QueryableByName)]
#[expect(missing_docs, reason = "the columns of the table")]
pub struct DiaryRow {
    #[diesel(sql_type = SqlUuid)]
    pub id: Uuid,
    #[diesel(sql_type = Text)]
    pub store_id: String,
    #[diesel(sql_type = Text)]
    pub kind: String,
    #[diesel(sql_type = Date)]
    pub from_date: NaiveDate,
    #[diesel(sql_type = Date)]
    pub to_date: NaiveDate,
    #[diesel(sql_type = Bool)]
    pub sets_aside: bool,
    #[diesel(sql_type = Text)]
    pub said: String,
    #[diesel(sql_type = SqlUuid)]
    pub said_by: Uuid,
    #[diesel(sql_type = Timestamptz)]
    pub said_at: DateTime<Utc>,
    #[diesel(sql_type = Nullable<Text>)]
    pub withdrawn: Option<String>,
}

statement!(Add { id: Uuid, store: &'a str, district: &'a str, owner: &'a str, kind: &'a str,
    from: NaiveDate, to: NaiveDate, aside: bool, said: &'a str, by: Uuid, at: DateTime<Utc> } =
    "INSERT INTO diary_entries (id, store_id, district_id, owner_id, kind, from_date, to_date,
       sets_aside, said, said_by, said_at) VALUES (", id: SqlUuid, ", ", store: Text, ", ",
    district: Text, ", ", owner: Text, ", ", kind: Text, ", ", from: Date, ", ", to: Date, ", ",
    aside: Bool, ", ", said: Text, ", ", by: SqlUuid, ", ", at: Timestamptz, ")");

/// Adds an entry, where the store stood in a district and belonged to an owner.
///
/// # Errors
/// When the acting person may not.
pub async fn add(
    conn: &mut AsyncPgConnection,
    (district, owner): (&str, &str),
    row: &DiaryRow,
) -> QueryResult<()> {
    let DiaryRow {
        id, store_id, kind, from_date, to_date, sets_aside, said, said_by, said_at, ..
    } = row;
    let add = Add::new(
        *id,
        store_id,
        district,
        owner,
        kind,
        *from_date,
        *to_date,
        *sets_aside,
        said,
        *said_by,
        *said_at,
    );
    add.execute(conn).await.map(|_| ())
}

statement!(Withdraw { id: Uuid, reason: &'a str, by: Uuid, at: DateTime<Utc> } =
    "INSERT INTO diary_withdrawals (entry_id, reason, withdrawn_by, withdrawn_at) VALUES (",
    id: SqlUuid, ", ", reason: Text, ", ", by: SqlUuid, ", ", at: Timestamptz, ")");

/// Withdraws an entry, once.
///
/// # Errors
/// When the acting person may not, or it is withdrawn.
pub async fn withdraw(
    conn: &mut AsyncPgConnection,
    id: Uuid,
    reason: &str,
    by: Uuid,
    at: DateTime<Utc>,
) -> QueryResult<()> {
    Withdraw::new(id, reason, by, at).execute(conn).await.map(|_| ())
}

statement!(List { store: &'a str, from: NaiveDate, to: NaiveDate, date: Option<NaiveDate>,
    id: Option<Uuid>, limit: i64 } =
    "SELECT e.id, e.store_id, e.kind, e.from_date, e.to_date, e.sets_aside, e.said, e.said_by,
       e.said_at, w.reason AS withdrawn
     FROM diary_entries e LEFT JOIN diary_withdrawals w ON w.entry_id = e.id,
       (SELECT ", store: Text, " AS store, ", from: Date, " AS first, ", to: Date, " AS last, ",
    date: Nullable<Date>, " AS date, ", id: Nullable<SqlUuid>, " AS id) AS asked
     WHERE e.store_id = asked.store AND e.to_date >= asked.first AND e.from_date <= asked.last
       AND (asked.id IS NULL OR (e.from_date, e.id) > (asked.date, asked.id))
     ORDER BY e.from_date, e.id LIMIT ", limit: BigInt, "");

/// The entries of a store that touch a span, in order of date, from after a key on.
///
/// # Errors
/// When the database cannot be reached.
pub async fn list(
    conn: &mut AsyncPgConnection,
    store: &str,
    span: DateSpan,
    after: Option<(NaiveDate, Uuid)>,
    limit: i64,
) -> QueryResult<Vec<DiaryRow>> {
    let (date, id) = (after.map(|(date, _)| date), after.map(|(_, id)| id));
    List::new(store, span.from().into(), span.to().into(), date, id, limit).load(conn).await
}

statement!(One { store: &'a str, id: Uuid } =
    "SELECT e.id, e.store_id, e.kind, e.from_date, e.to_date, e.sets_aside, e.said, e.said_by,
       e.said_at, w.reason AS withdrawn
     FROM diary_entries e LEFT JOIN diary_withdrawals w ON w.entry_id = e.id
     WHERE e.store_id = ", store: Text, " AND e.id = ", id: SqlUuid, "");

/// An entry of a store by its id.
///
/// # Errors
/// When the database cannot be reached.
pub async fn one(
    conn: &mut AsyncPgConnection,
    store: &str,
    id: Uuid,
) -> QueryResult<Option<DiaryRow>> {
    Ok(One::new(store, id).load(conn).await?.pop())
}

/// A span of a store that is set aside.
#[derive(Debug, Clone, PartialEq, Eq, QueryableByName)]
pub struct AsideRow {
    /// The store.
    #[diesel(sql_type = Text)]
    pub store_id: String,
    /// Its first date.
    #[diesel(sql_type = Date)]
    pub from_date: NaiveDate,
    /// Its last date.
    #[diesel(sql_type = Date)]
    pub to_date: NaiveDate,
}

statement!(Aside { from: NaiveDate, to: NaiveDate } =
    "SELECT e.store_id, e.from_date, e.to_date FROM diary_entries e
     WHERE e.sets_aside AND e.to_date >= ", from: Date, " AND e.from_date <= ", to: Date, "
       AND NOT EXISTS (SELECT FROM diary_withdrawals w WHERE w.entry_id = e.id)");

/// What is set aside of a span, in all stores the acting part sees.
///
/// # Errors
/// When the database cannot be reached.
pub async fn set_aside(conn: &mut AsyncPgConnection, span: DateSpan) -> QueryResult<Vec<AsideRow>> {
    Aside::new(span.from().into(), span.to().into()).load(conn).await
}
