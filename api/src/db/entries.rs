//! What was recorded through the day, and what of it was withdrawn.

use chrono::{DateTime, NaiveDate, Utc};
use diesel::prelude::*;
use diesel::sql_types::{Array, Date, Jsonb, Text, Timestamptz, Uuid as SqlUuid};
use diesel_async::{AsyncPgConnection, RunQueryDsl};
use parings_core::access::Standing;
use parings_core::calendar::BusinessDate;
use parings_core::ids::{EntryId, PersonId, StoreId, WriteId};
use serde::Serialize;
use serde_json::{Value, json};
use uuid::Uuid;

use super::statement::statement;
use crate::db::schema::{entries, entry_ids, entry_withdrawals as withdrawals};

/// An entry as it was recorded.
#[derive(Debug, Clone, Queryable, Selectable)]
#[diesel(table_name = entries)]
pub struct EntryRow {
    /// The client's id of the entry.
    pub id: Uuid,
    /// What it says.
    pub body: Value,
    /// The account that recorded it.
    pub recorded_by: Uuid,
    /// When it was recorded.
    pub recorded_at: DateTime<Utc>,
    /// That it was withdrawn.
    #[diesel(embed)]
    pub withdrawal: Option<WithdrawalRow>,
}

/// That an entry was withdrawn.
#[derive(Debug, Clone, Queryable, Selectable)]
#[diesel(table_name = withdrawals)]
pub struct WithdrawalRow {
    /// Why it was withdrawn, in words.
    pub reason: String,
    /// The account that withdrew it.
    pub withdrawn_by: Uuid,
    /// When it was withdrawn.
    pub withdrawn_at: DateTime<Utc>,
}

/// An entry to add.
#[derive(Serialize)]
pub struct NewEntry {
    /// The client's id of the entry.
    pub id: EntryId,
    /// Its kind's word.
    pub kind: &'static str,
    /// What it says.
    pub body: Value,
}

/// What entries that are added together have in common.
pub struct Recording<'a> {
    /// Where the store stood on the date.
    pub standing: &'a Standing,
    /// The business date they are recorded for.
    pub date: BusinessDate,
    /// The account that records them.
    pub by: PersonId,
    /// When they are recorded.
    pub at: DateTime<Utc>,
    /// The write they come with.
    pub write: WriteId,
}

statement!(Add<'a> { sent: &'a Value => Jsonb } = "entries/add.sql");

#[derive(QueryableByName)]
struct Taken {
    #[diesel(sql_type = SqlUuid)]
    id: Uuid,
}

/// Adds entries and answers with those of their ids that were taken; when there are any, the
/// transaction must not commit, for the other entries were added.
///
/// # Errors
/// When the acting person may not record in the store.
pub async fn add(
    conn: &mut AsyncPgConnection,
    of: &Recording<'_>,
    new: &[NewEntry],
) -> QueryResult<Vec<EntryId>> {
    let sent = json!({
        "business_date": of.date,
        "store_id": of.standing.store,
        "district_id": of.standing.district,
        "region_id": of.standing.region,
        "owner_id": of.standing.owner,
        "recorded_by": of.by,
        "recorded_at": of.at,
        "write_id": of.write,
        "entries": new,
    });
    let taken: Vec<Taken> = Add { sent: &sent }.load(conn).await?;
    Ok(taken.into_iter().map(|row| EntryId(row.id)).collect())
}

/// The entries of a night in the order they came, withdrawn ones among them.
///
/// # Errors
/// When the database cannot be reached.
pub async fn of_night(
    mut conn: &AsyncPgConnection,
    store: &StoreId,
    date: BusinessDate,
) -> QueryResult<Vec<EntryRow>> {
    entries::table
        .left_join(withdrawals::table.on(withdrawals::entry_id.eq(entries::id)))
        .filter(entries::business_date.eq(NaiveDate::from(date)))
        .filter(entries::store_id.eq(store.as_str()))
        .order((entries::recorded_at, entries::id))
        .select(EntryRow::as_select())
        .load(&mut conn)
        .await
}

/// An entry by its id, withdrawn or not.
///
/// # Errors
/// When the database cannot be reached.
pub async fn find(
    conn: &mut AsyncPgConnection,
    store: &StoreId,
    date: BusinessDate,
    id: EntryId,
) -> QueryResult<Option<EntryRow>> {
    entries::table
        .left_join(withdrawals::table.on(withdrawals::entry_id.eq(entries::id)))
        .filter(entries::business_date.eq(NaiveDate::from(date)))
        .filter(entries::store_id.eq(store.as_str()))
        .filter(entries::id.eq(id.0))
        .select(EntryRow::as_select())
        .first(conn)
        .await
        .optional()
}

/// Those of some ids that entries have.
///
/// # Errors
/// When the database cannot be reached.
pub async fn taken(conn: &mut AsyncPgConnection, ids: &[Uuid]) -> QueryResult<Vec<Uuid>> {
    entry_ids::table.filter(entry_ids::id.eq_any(ids)).select(entry_ids::id).load(conn).await
}

/// The date of an entry of a store, for those who may record there.
///
/// # Errors
/// When the database cannot be reached.
pub async fn date_of(
    conn: &mut AsyncPgConnection,
    store: &StoreId,
    id: EntryId,
) -> QueryResult<Option<BusinessDate>> {
    let found: Option<NaiveDate> = entry_ids::table
        .filter(entry_ids::id.eq(id.0))
        .filter(entry_ids::store_id.eq(store.as_str()))
        .select(entry_ids::business_date)
        .first(conn)
        .await
        .optional()?;
    Ok(found.map(BusinessDate::from))
}

statement!(Withdraw<'a> {
    id: Uuid => SqlUuid,
    date: NaiveDate => Date,
    store: &'a str => Text,
    district: &'a str => Text,
    region: &'a str => Text,
    owner: &'a str => Text,
    reason: &'a str => Text,
    by: Uuid => SqlUuid,
    at: DateTime<Utc> => Timestamptz,
} = "entries/withdraw.sql");

/// Withdraws an entry; false when it was withdrawn before.
///
/// # Errors
/// When the acting person may not record in the store.
pub async fn withdraw(
    conn: &mut AsyncPgConnection,
    standing: &Standing,
    date: BusinessDate,
    id: EntryId,
    row: &WithdrawalRow,
) -> QueryResult<bool> {
    let added = Withdraw {
        id: id.0,
        date: date.into(),
        store: standing.store.as_str(),
        district: standing.district.as_str(),
        region: standing.region.as_str(),
        owner: standing.owner.as_str(),
        reason: &row.reason,
        by: row.withdrawn_by,
        at: row.withdrawn_at,
    }
    .execute(conn)
    .await?;
    Ok(added == 1)
}

/// Somebody, for those who are told of them.
#[derive(QueryableByName)]
pub struct ToldRow {
    /// The id of the account.
    #[diesel(sql_type = SqlUuid)]
    pub id: Uuid,
    /// What people call them.
    #[diesel(sql_type = Text)]
    pub name: String,
    /// The word of the part they play today.
    #[diesel(sql_type = Text)]
    pub role: String,
    /// Where they play it.
    #[diesel(sql_type = Array<Text>)]
    pub places: Vec<String>,
}

statement!(ToldOf<'a> { ids: &'a [Uuid] => Array<SqlUuid> } = "entries/told_of.sql");

/// Those of the people whom the one who acts is told of.
///
/// # Errors
/// When the database cannot be reached.
pub async fn told_of(conn: &mut AsyncPgConnection, ids: &[Uuid]) -> QueryResult<Vec<ToldRow>> {
    ToldOf { ids }.load(conn).await
}
