//! The diaries of stores.

use chrono::{DateTime, NaiveDate, Utc};
use diesel::sql_types::{BigInt, Bool, Date, Nullable, Text, Timestamptz, Uuid as SqlUuid};
use diesel::{ExpressionMethods, QueryResult, QueryableByName};
use diesel_async::{AsyncPgConnection, RunQueryDsl};
use parings_core::calendar::DateSpan;
use uuid::Uuid;

use super::schema::{diary_entries, diary_withdrawals};
use super::statement::statement;

/// An entry, and why it was withdrawn.
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

/// Adds an entry, where the store stood in a district and belonged to an owner.
///
/// # Errors
/// When the acting person may not.
pub async fn add(
    conn: &mut AsyncPgConnection,
    (district, owner): (&str, &str),
    row: &DiaryRow,
) -> QueryResult<()> {
    diesel::insert_into(diary_entries::table)
        .values((
            diary_entries::id.eq(row.id),
            diary_entries::store_id.eq(&row.store_id),
            diary_entries::district_id.eq(district),
            diary_entries::owner_id.eq(owner),
            diary_entries::kind.eq(&row.kind),
            diary_entries::from_date.eq(row.from_date),
            diary_entries::to_date.eq(row.to_date),
            diary_entries::sets_aside.eq(row.sets_aside),
            diary_entries::said.eq(&row.said),
            diary_entries::said_by.eq(row.said_by),
            diary_entries::said_at.eq(row.said_at),
        ))
        .execute(conn)
        .await
        .map(|_| ())
}

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
    diesel::insert_into(diary_withdrawals::table)
        .values((
            diary_withdrawals::entry_id.eq(id),
            diary_withdrawals::reason.eq(reason),
            diary_withdrawals::withdrawn_by.eq(by),
            diary_withdrawals::withdrawn_at.eq(at),
        ))
        .execute(conn)
        .await
        .map(|_| ())
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
    /// The code of the store.
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
