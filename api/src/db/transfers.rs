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
    /// The id of the entry that is this end.
    #[diesel(sql_type = SqlUuid)]
    pub id: Uuid,
    /// The store that recorded it.
    #[diesel(sql_type = Text)]
    pub store_id: String,
    /// The business date that it was recorded for.
    #[diesel(sql_type = Date)]
    pub business_date: NaiveDate,
    /// What it says.
    #[diesel(sql_type = Jsonb)]
    pub body: Value,
    /// When it was recorded.
    #[diesel(sql_type = Timestamptz)]
    pub recorded_at: DateTime<Utc>,
}

statement!(Ends {
    from: NaiveDate => Date,
    to: NaiveDate => Date,
    known: DateTime<Utc> => Timestamptz,
} = "transfers/ends.sql");

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
    Ends { from: span.from().into(), to: span.to().into(), known }.load(conn).await
}

#[derive(QueryableByName)]
struct StoodRow {
    #[diesel(sql_type = Bool)]
    stood: bool,
}

statement!(Stood<'a> {
    store: &'a str => Text,
    date: NaiveDate => Date,
    known: DateTime<Utc> => Timestamptz,
} = "transfers/stood.sql");

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
    let found: StoodRow =
        Stood { store: store.as_str(), date: date.into(), known }.get_result(conn).await?;
    Ok(found.stood)
}
