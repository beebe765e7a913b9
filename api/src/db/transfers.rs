//! Ends of transfers between stores.

use chrono::{DateTime, NaiveDate, Utc};
use diesel::sql_types::{Bool, Date, Jsonb, Text, Timestamptz, Uuid as SqlUuid};
use diesel::{QueryResult, QueryableByName};
use diesel_async::{AsyncPgConnection, RunQueryDsl};
use parings_core::calendar::{BusinessDate, DateSpan};
use parings_core::ids::StoreId;
use serde_json::Value;
use uuid::Uuid;

use super::statement::statement;

/// An end as it was recorded.
#[derive(Debug, Clone, QueryableByName)]
pub struct EndRow {
    /// The entry.
    #[diesel(sql_type = SqlUuid)]
    pub id: Uuid,
    /// The store that recorded it.
    #[diesel(sql_type = Text)]
    pub store_id: String,
    /// Its date.
    #[diesel(sql_type = Date)]
    pub business_date: NaiveDate,
    /// What it says.
    #[diesel(sql_type = Jsonb)]
    pub body: Value,
    /// When it was recorded.
    #[diesel(sql_type = Timestamptz)]
    pub recorded_at: DateTime<Utc>,
}

statement!(Ends { first: NaiveDate, last: NaiveDate, from: NaiveDate, to: NaiveDate,
    known: DateTime<Utc> } =
    "SELECT e.id, e.store_id, e.business_date, e.body, e.recorded_at FROM entries e
     WHERE e.kind IN ('transfer_in', 'transfer_out') AND e.business_date >= ", first: Date,
    " AND e.business_date <= ", last: Date,
    " AND NOT EXISTS (SELECT FROM entry_withdrawals w WHERE w.entry_id = e.id)
     UNION SELECT id, store_id, business_date, body, recorded_at
     FROM transfers_naming(", from: Date, ", ", to: Date, ", ", known: Timestamptz,
    ") ORDER BY business_date, id");

/// The ends dated in a span that stores recorded whom the acting person sees, and those that name
/// one of them, whoever recorded them.
///
/// # Errors
/// When the database cannot be reached.
pub async fn ends(
    conn: &mut AsyncPgConnection,
    span: DateSpan,
    known: DateTime<Utc>,
) -> QueryResult<Vec<EndRow>> {
    let (first, last) = (span.from().into(), span.to().into());
    Ends::new(first, last, first, last, known).load(conn).await
}

#[derive(QueryableByName)]
struct Stood {
    #[diesel(sql_type = Bool)]
    stood: bool,
}

statement!(StoreStood { store: &'a str, date: NaiveDate, known: DateTime<Utc> } =
    "SELECT store_stood(", store: Text, ", ", date: Date, ", ", known: Timestamptz, ") AS stood");

/// Whether a store was in force on a date, also one that the acting person may not see.
///
/// # Errors
/// When the database cannot be reached.
pub async fn stood(
    conn: &mut AsyncPgConnection,
    store: &StoreId,
    date: BusinessDate,
    known: DateTime<Utc>,
) -> QueryResult<bool> {
    let found: Stood = StoreStood::new(store.as_str(), date.into(), known).get_result(conn).await?;
    Ok(found.stood)
}
