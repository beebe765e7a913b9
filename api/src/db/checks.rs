//! What surrounds a count: what the checks compare it with.

use chrono::{DateTime, NaiveDate, Utc};
use diesel::sql_types::{Array, Date, Jsonb, Text, Timestamptz, Uuid as SqlUuid};
use diesel::{QueryResult, QueryableByName};
use diesel_async::{AsyncPgConnection, RunQueryDsl};
use parings_core::calendar::BusinessDate;
use parings_core::ids::{PersonId, StoreId};
use parings_core::night::Count;
use uuid::Uuid;

use super::catalog::VersionRow;
use super::json::Json;
use super::statement::statement;

/// A count of another night, or sent a moment ago.
#[derive(Debug, Clone, QueryableByName)]
pub struct CountRow {
    /// Its date.
    #[diesel(sql_type = Date)]
    pub business_date: NaiveDate,
    /// When it was recorded.
    #[diesel(sql_type = Timestamptz)]
    pub recorded_at: DateTime<Utc>,
    /// The count.
    #[diesel(sql_type = Jsonb)]
    pub body: Json<Count>,
}

statement!(CountsInForce<'a> {
    store: &'a str => Text,
    from: NaiveDate => Date,
    before: NaiveDate => Date,
} = "checks/counts_in_force.sql");

/// The counts in force of a store's nights from a date on and before another, the newest first.
///
/// # Errors
/// When the database cannot be reached.
pub async fn counts_in_force(
    conn: &mut AsyncPgConnection,
    store: &StoreId,
    from: BusinessDate,
    before: BusinessDate,
) -> QueryResult<Vec<CountRow>> {
    CountsInForce { store: store.as_str(), from: from.into(), before: before.into() }
        .load(conn)
        .await
}

statement!(SentSince<'a> {
    store: &'a str => Text,
    from: NaiveDate => Date,
    since: DateTime<Utc> => Timestamptz,
} = "checks/sent_since.sql");

/// The counts of a store that were sent since a moment, for dates from one on.
///
/// # Errors
/// When the database cannot be reached.
pub async fn sent_since(
    conn: &mut AsyncPgConnection,
    store: &StoreId,
    from: BusinessDate,
    since: DateTime<Utc>,
) -> QueryResult<Vec<CountRow>> {
    SentSince { store: store.as_str(), from: from.into(), since }.load(conn).await
}

/// Something that a person recorded.
#[derive(Debug, Clone, QueryableByName)]
pub struct ElsewhereRow {
    /// At which store.
    #[diesel(sql_type = Text)]
    pub store_id: String,
    /// When.
    #[diesel(sql_type = Timestamptz)]
    pub recorded_at: DateTime<Utc>,
}

statement!(Elsewhere<'a> {
    by: Uuid => SqlUuid,
    stores: &'a [&'a str] => Array<Text>,
    from: NaiveDate => Date,
    since: DateTime<Utc> => Timestamptz,
} = "checks/elsewhere.sql");

/// What a person recorded at some stores since a moment, for dates from one on.
///
/// # Errors
/// When the database cannot be reached.
pub async fn elsewhere(
    conn: &mut AsyncPgConnection,
    by: PersonId,
    stores: &[&str],
    from: BusinessDate,
    since: DateTime<Utc>,
) -> QueryResult<Vec<ElsewhereRow>> {
    Elsewhere { by: by.0, stores, from: from.into(), since }.load(conn).await
}

statement!(Changed {
    after: NaiveDate => Date,
    until: NaiveDate => Date,
    known: DateTime<Utc> => Timestamptz,
} = "checks/changed.sql");

/// Prices and products that changed after a date, up to another, as known at a moment.
///
/// # Errors
/// When the database cannot be reached.
pub async fn changed(
    conn: &mut AsyncPgConnection,
    after: BusinessDate,
    until: BusinessDate,
    known: DateTime<Utc>,
) -> QueryResult<Vec<VersionRow>> {
    Changed { after: after.into(), until: until.into(), known }.load(conn).await
}

#[derive(QueryableByName)]
struct LeftRow {
    #[diesel(sql_type = Text)]
    name: String,
}

statement!(LeftOf<'a> { ids: &'a [Uuid] => Array<SqlUuid> } = "checks/left_of.sql");

/// The names of those of some people whose account has ended; only crew and managers are told.
///
/// # Errors
/// When the database cannot be reached.
pub async fn left_of(conn: &mut AsyncPgConnection, ids: &[Uuid]) -> QueryResult<Vec<String>> {
    let rows: Vec<LeftRow> = LeftOf { ids }.load(conn).await?;
    Ok(rows.into_iter().map(|row| row.name).collect())
}
