//! What a store's figures are made of, around the time a finding began.

use chrono::{DateTime, NaiveDate, Utc};
use diesel::sql_types::{Date, Jsonb, Text, Timestamptz};
use diesel::{QueryResult, QueryableByName};
use diesel_async::{AsyncPgConnection, RunQueryDsl};
use parings_core::calendar::{BusinessDate, DateSpan};
use serde_json::Value;

use super::statement::statement;

/// A document that changed.
#[derive(Debug, Clone, PartialEq, Eq, QueryableByName)]
pub struct ChangedRow {
    /// From when on.
    #[diesel(sql_type = Date)]
    pub valid_from: NaiveDate,
    /// What kind of document.
    #[diesel(sql_type = Text)]
    pub kind: String,
    /// The document's code.
    #[diesel(sql_type = Text)]
    pub code: String,
}

statement!(Changed<'a> {
    store: &'a str => Text,
    from: NaiveDate => Date,
    to: NaiveDate => Date,
    known: DateTime<Utc> => Timestamptz,
} = "causes/changed.sql");

statement!(Published {
    from: NaiveDate => Date,
    to: NaiveDate => Date,
    known: DateTime<Utc> => Timestamptz,
} = "causes/published.sql");

/// The sets of standard pars that took effect in a span.
///
/// # Errors
/// When the database cannot be reached.
pub async fn published(
    conn: &mut AsyncPgConnection,
    (from, to): (BusinessDate, BusinessDate),
    known: DateTime<Utc>,
) -> QueryResult<Vec<ChangedRow>> {
    Published { from: from.into(), to: to.into(), known }.load(conn).await
}

/// The reference data that changed in a span, of the network and of a store; what was new then is no
/// change.
///
/// # Errors
/// When the database cannot be reached.
pub async fn changed(
    conn: &mut AsyncPgConnection,
    store: &str,
    (from, to): (BusinessDate, BusinessDate),
    known: DateTime<Utc>,
) -> QueryResult<Vec<ChangedRow>> {
    Changed { store, from: from.into(), to: to.into(), known }.load(conn).await
}

/// A batch as it was recorded.
#[derive(Debug, Clone, PartialEq, QueryableByName)]
pub struct BatchRow {
    /// The business date that it was recorded for.
    #[diesel(sql_type = Date)]
    pub business_date: NaiveDate,
    /// The entry, as a document.
    #[diesel(sql_type = Jsonb)]
    pub body: Value,
}

statement!(Batches<'a> {
    store: &'a str => Text,
    from: NaiveDate => Date,
    to: NaiveDate => Date,
} = "causes/batches.sql");

/// The batches of a store that the acting person sees.
///
/// # Errors
/// When the database cannot be reached.
pub async fn batches(
    conn: &mut AsyncPgConnection,
    store: &str,
    span: DateSpan,
) -> QueryResult<Vec<BatchRow>> {
    Batches { store, from: span.from().into(), to: span.to().into() }.load(conn).await
}
