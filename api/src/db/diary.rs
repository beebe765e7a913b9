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

statement!(Add<'a> {
    id: Uuid => SqlUuid,
    store: &'a str => Text,
    district: &'a str => Text,
    owner: &'a str => Text,
    kind: &'a str => Text,
    from: NaiveDate => Date,
    to: NaiveDate => Date,
    aside: bool => Bool,
    said: &'a str => Text,
    by: Uuid => SqlUuid,
    at: DateTime<Utc> => Timestamptz,
} = "diary/add.sql");

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
    let add = Add {
        id: *id,
        store: store_id,
        district,
        owner,
        kind,
        from: *from_date,
        to: *to_date,
        aside: *sets_aside,
        said,
        by: *said_by,
        at: *said_at,
    };
    add.execute(conn).await.map(|_| ())
}

statement!(Withdraw<'a> {
    id: Uuid => SqlUuid,
    reason: &'a str => Text,
    by: Uuid => SqlUuid,
    at: DateTime<Utc> => Timestamptz,
} = "diary/withdraw.sql");

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
    Withdraw { id, reason, by, at }.execute(conn).await.map(|_| ())
}

statement!(List<'a> {
    store: &'a str => Text,
    from: NaiveDate => Date,
    to: NaiveDate => Date,
    date: Option<NaiveDate> => Nullable<Date>,
    id: Option<Uuid> => Nullable<SqlUuid>,
    limit: i64 => BigInt,
} = "diary/list.sql");

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
    List { store, from: span.from().into(), to: span.to().into(), date, id, limit }.load(conn).await
}

statement!(One<'a> { store: &'a str => Text, id: Uuid => SqlUuid } = "diary/one.sql");

/// An entry of a store by its id.
///
/// # Errors
/// When the database cannot be reached.
pub async fn one(
    conn: &mut AsyncPgConnection,
    store: &str,
    id: Uuid,
) -> QueryResult<Option<DiaryRow>> {
    Ok(One { store, id }.load(conn).await?.pop())
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

statement!(SetAside { from: NaiveDate => Date, to: NaiveDate => Date } = "diary/set_aside.sql");

/// What is set aside of a span, in all stores the acting part sees.
///
/// # Errors
/// When the database cannot be reached.
pub async fn set_aside(conn: &mut AsyncPgConnection, span: DateSpan) -> QueryResult<Vec<AsideRow>> {
    SetAside { from: span.from().into(), to: span.to().into() }.load(conn).await
}
