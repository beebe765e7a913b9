//! What tills sent.

use std::collections::BTreeSet;

use chrono::{DateTime, NaiveDate, Utc};
use diesel::prelude::*;
use diesel::sql_types::{Date, Jsonb, Text, Timestamptz, Uuid as SqlUuid};
use diesel_async::{AsyncPgConnection, RunQueryDsl};
use parings_core::access::Standing;
use parings_core::calendar::{BusinessDate, DateSpan};
use parings_core::ids::{PersonId, StoreId, WriteId};
use serde_json::Value;
use uuid::Uuid;

use super::statement::statement;
use crate::db::schema::till_batches as batches;

/// A batch as it was sent.
#[derive(Debug, Clone, Queryable, Selectable)]
#[diesel(table_name = batches)]
pub struct BatchRow {
    /// The date it is of.
    pub business_date: NaiveDate,
    /// The till's id of it.
    pub batch_id: String,
    /// Its sales and tickets.
    pub body: Value,
    /// When it came.
    pub recorded_at: DateTime<Utc>,
}

statement!(Add<'a> {
    date: NaiveDate => Date,
    store: &'a str => Text,
    batch: &'a str => Text,
    body: &'a Value => Jsonb,
    district: &'a str => Text,
    region: &'a str => Text,
    owner: &'a str => Text,
    by: Uuid => SqlUuid,
    at: DateTime<Utc> => Timestamptz,
    write: Uuid => SqlUuid,
} = "till/add.sql");

/// Adds a batch; false when the store has one of this id on this date.
///
/// # Errors
/// When the acting service may not send for the store.
pub async fn add(
    conn: &mut AsyncPgConnection,
    standing: &Standing,
    row: &BatchRow,
    by: PersonId,
    write: WriteId,
) -> QueryResult<bool> {
    let added = Add {
        date: row.business_date,
        store: standing.store.as_str(),
        batch: &row.batch_id,
        body: &row.body,
        district: standing.district.as_str(),
        region: standing.region.as_str(),
        owner: standing.owner.as_str(),
        by: by.0,
        at: row.recorded_at,
        write: write.0,
    }
    .execute(conn)
    .await?;
    Ok(added == 1)
}

/// Those of some ids that batches of a store have.
///
/// # Errors
/// When the database cannot be reached.
pub async fn taken(
    conn: &mut AsyncPgConnection,
    store: &StoreId,
    ids: &[&str],
) -> QueryResult<BTreeSet<String>> {
    let found: Vec<String> = batches::table
        .filter(batches::store_id.eq(store.as_str()))
        .filter(batches::batch_id.eq_any(ids))
        .select(batches::batch_id)
        .load(conn)
        .await?;
    Ok(found.into_iter().collect())
}

/// The batches of a night in the order they came.
///
/// # Errors
/// When the database cannot be reached.
pub async fn of_night(
    conn: &mut AsyncPgConnection,
    store: &StoreId,
    date: BusinessDate,
) -> QueryResult<Vec<BatchRow>> {
    batches::table
        .filter(batches::business_date.eq(NaiveDate::from(date)))
        .filter(batches::store_id.eq(store.as_str()))
        .order((batches::recorded_at, batches::batch_id))
        .select(BatchRow::as_select())
        .load(conn)
        .await
}

/// The till's ids of the batches of a night that came up to a moment, in the order they came.
///
/// # Errors
/// When the database cannot be reached.
pub async fn ids_of_night(
    conn: &mut AsyncPgConnection,
    store: &StoreId,
    date: BusinessDate,
    recorded_by: DateTime<Utc>,
) -> QueryResult<Vec<String>> {
    batches::table
        .filter(batches::recorded_at.le(recorded_by))
        .filter(batches::business_date.eq(NaiveDate::from(date)))
        .filter(batches::store_id.eq(store.as_str()))
        .order((batches::recorded_at, batches::batch_id))
        .select(batches::batch_id)
        .load(conn)
        .await
}

/// The batches of a span's nights, night by night in the order they came.
///
/// # Errors
/// When the database cannot be reached.
pub async fn of_span(
    conn: &mut AsyncPgConnection,
    store: &StoreId,
    span: DateSpan,
) -> QueryResult<Vec<BatchRow>> {
    let (from, to) = (NaiveDate::from(span.from()), NaiveDate::from(span.to()));
    batches::table
        .filter(batches::business_date.between(from, to))
        .filter(batches::store_id.eq(store.as_str()))
        .order((batches::business_date, batches::recorded_at, batches::batch_id))
        .select(BatchRow::as_select())
        .load(conn)
        .await
}
