//! The facts of a night: revisions of its count, and all of them together for the rules.

use chrono::{DateTime, NaiveDate, Utc};
use diesel::sql_types::{
    BigInt, Date, Integer, Jsonb, Nullable, Text, Timestamptz, Uuid as SqlUuid,
};
use diesel::{QueryResult, QueryableByName};
use diesel_async::{AsyncPgConnection, RunQueryDsl};
use parings_core::access::Standing;
use parings_core::calendar::BusinessDate;
use parings_core::ids::{StoreId, WriteId};
use parings_core::night::Count;
use parings_core::tally::DayFacts;
use serde_json::Value;
use uuid::Uuid;

use super::statement::statement;

/// A revision of a night's count.
#[derive(Debug, Clone, QueryableByName)]
pub struct RevisionRow {
    /// Its number, from 1.
    #[diesel(sql_type = Integer)]
    pub revision: i32,
    /// The count.
    #[diesel(sql_type = Jsonb)]
    pub body: Value,
    /// Why it was revised.
    #[diesel(sql_type = Nullable<Text>)]
    pub reason: Option<String>,
    /// Who submitted it.
    #[diesel(sql_type = SqlUuid)]
    pub submitted_by: Uuid,
    /// When.
    #[diesel(sql_type = Timestamptz)]
    pub recorded_at: DateTime<Utc>,
}

statement!(Latest { store: &'a str, date: NaiveDate } =
    "SELECT revision, body, reason, submitted_by, recorded_at FROM night_revisions
     WHERE store_id = ", store: Text, " AND business_date = ", date: Date,
    " ORDER BY revision DESC LIMIT 1");

/// The count of a night as it stands.
///
/// # Errors
/// When the database cannot be reached.
pub async fn latest(
    conn: &mut AsyncPgConnection,
    store: &StoreId,
    date: BusinessDate,
) -> QueryResult<Option<RevisionRow>> {
    let found: Vec<RevisionRow> = Latest::new(store.as_str(), date.into()).load(conn).await?;
    Ok(found.into_iter().next())
}

statement!(Revisions { store: &'a str, date: NaiveDate } =
    "SELECT revision, body, reason, submitted_by, recorded_at FROM night_revisions
     WHERE store_id = ", store: Text, " AND business_date = ", date: Date, " ORDER BY revision");

/// Every revision of a night's count, oldest first.
///
/// # Errors
/// When the database cannot be reached.
pub async fn revisions(
    conn: &mut AsyncPgConnection,
    store: &StoreId,
    date: BusinessDate,
) -> QueryResult<Vec<RevisionRow>> {
    Revisions::new(store.as_str(), date.into()).load(conn).await
}

statement!(Add { date: NaiveDate, store: &'a str, revision: i32, body: &'a Value,
    reason: Option<&'a str>, district: &'a str, region: &'a str, owner: &'a str, by: Uuid,
    at: DateTime<Utc>, write: Uuid } =
    "INSERT INTO night_revisions (business_date, store_id, revision, body, reason, district_id,
     region_id, owner_id, submitted_by, recorded_at, write_id) VALUES (", date: Date, ", ",
    store: Text, ", ", revision: Integer, ", ", body: Jsonb, ", ", reason: Nullable<Text>, ", ",
    district: Text, ", ", region: Text, ", ", owner: Text, ", ", by: SqlUuid, ", ",
    at: Timestamptz, ", ", write: SqlUuid, ")");

/// Adds a revision of a night's count.
///
/// # Errors
/// When the acting person may not, the number is taken, or the database cannot be reached.
pub async fn add_revision(
    conn: &mut AsyncPgConnection,
    standing: &Standing,
    date: BusinessDate,
    write: WriteId,
    row: &RevisionRow,
) -> QueryResult<()> {
    Add::new(
        date.into(),
        standing.store.as_str(),
        row.revision,
        &row.body,
        row.reason.as_deref(),
        standing.district.as_str(),
        standing.region.as_str(),
        standing.owner.as_str(),
        row.submitted_by,
        row.recorded_at,
        write.0,
    )
    .execute(conn)
    .await
    .map(|_| ())
}

#[derive(QueryableByName)]
struct FactsRow {
    #[diesel(sql_type = Jsonb)]
    entries: Value,
    #[diesel(sql_type = Jsonb)]
    till: Value,
    #[diesel(sql_type = Nullable<Jsonb>)]
    count: Option<Value>,
    #[diesel(sql_type = Nullable<BigInt>)]
    revision: Option<i64>,
}

statement!(Facts { store: &'a str, date: NaiveDate, store2: &'a str, date2: NaiveDate,
    store3: &'a str, date3: NaiveDate } =
    "SELECT f.entries, t.till, n.body AS count, n.revision FROM
     (SELECT coalesce(jsonb_agg(jsonb_build_object('id', e.id, 'body', e.body)
        ORDER BY e.recorded_at, e.id), '[]') AS entries
      FROM entries e WHERE e.store_id = ", store: Text, " AND e.business_date = ", date: Date,
    " AND NOT EXISTS (SELECT FROM entry_withdrawals w WHERE w.entry_id = e.id)) f,
     (SELECT coalesce(jsonb_agg(b.body ORDER BY b.recorded_at, b.batch_id), '[]') AS till
      FROM till_batches b WHERE b.store_id = ", store2: Text, " AND b.business_date = ",
    date2: Date,
    ") t LEFT JOIN LATERAL (SELECT r.body, r.revision::bigint FROM night_revisions r
      WHERE r.store_id = ", store3: Text, " AND r.business_date = ", date3: Date,
    " ORDER BY r.revision DESC LIMIT 1) n ON true");

/// Everything recorded of a night, as the rules take it, and the revision of its count.
///
/// # Errors
/// When the database cannot be reached, or a document is of no shape the rules know.
pub async fn facts(
    conn: &mut AsyncPgConnection,
    store: &StoreId,
    date: BusinessDate,
) -> QueryResult<(DayFacts, Option<i32>)> {
    let (id, on) = (store.as_str(), NaiveDate::from(date));
    let row: FactsRow = Facts::new(id, on, id, on, id, on).get_result(conn).await?;
    let facts = DayFacts {
        entries: document(row.entries)?,
        till: document(row.till)?,
        count: row.count.map(document::<Count>).transpose()?,
    };
    Ok((facts, row.revision.and_then(|r| i32::try_from(r).ok())))
}

fn document<T: serde::de::DeserializeOwned>(value: Value) -> QueryResult<T> {
    serde_json::from_value(value).map_err(|e| diesel::result::Error::DeserializationError(e.into()))
}
