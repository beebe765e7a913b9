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
    /// Which.
    #[diesel(sql_type = Text)]
    pub code: String,
}

statement!(Changed { store: &'a str, from: NaiveDate, to: NaiveDate, known: DateTime<Utc> } =
    "SELECT DISTINCT v.valid_from, v.kind, v.code FROM reference_versions v,
       (SELECT ", store: Text, " AS store, ", from: Date, " AS first, ", to: Date, " AS last, ",
    known: Timestamptz, " AS known) AS asked
     WHERE v.valid_from BETWEEN first AND last AND v.recorded_at <= asked.known
       AND (v.store_id IS NULL OR v.store_id = asked.store)
       AND EXISTS (SELECT FROM reference_versions o WHERE o.kind = v.kind AND o.code = v.code
         AND o.valid_from < v.valid_from AND o.recorded_at <= asked.known AND o.body <> v.body)
     ORDER BY 1, 2, 3");

statement!(Published { from: NaiveDate, to: NaiveDate, known: DateTime<Utc> } =
    "SELECT valid_from, 'par_sets' AS kind, set_code AS code FROM par_publications
     WHERE valid_from BETWEEN ", from: Date, " AND ", to: Date, " AND recorded_at <= ",
    known: Timestamptz, " ORDER BY valid_from, id");

/// The sets of standard pars that took effect in a span.
///
/// # Errors
/// When the database cannot be reached.
pub async fn published(
    conn: &mut AsyncPgConnection,
    (from, to): (BusinessDate, BusinessDate),
    known: DateTime<Utc>,
) -> QueryResult<Vec<ChangedRow>> {
    Published::new(from.into(), to.into(), known).load(conn).await
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
    Changed::new(store, from.into(), to.into(), known).load(conn).await
}

/// A batch as it was recorded.
#[derive(Debug, Clone, PartialEq, QueryableByName)]
pub struct BatchRow {
    /// The date.
    #[diesel(sql_type = Date)]
    pub business_date: NaiveDate,
    /// The entry.
    #[diesel(sql_type = Jsonb)]
    pub body: Value,
}

statement!(Batches { store: &'a str, from: NaiveDate, to: NaiveDate } =
    "SELECT e.business_date, e.body FROM entries e
     WHERE e.store_id = ", store: Text, " AND e.business_date BETWEEN ", from: Date, " AND ",
    to: Date, " AND e.kind = 'batch'
       AND NOT EXISTS (SELECT FROM entry_withdrawals w WHERE w.entry_id = e.id)
     ORDER BY e.business_date, e.id");

/// The batches of a store that the acting person sees.
///
/// # Errors
/// When the database cannot be reached.
pub async fn batches(
    conn: &mut AsyncPgConnection,
    store: &str,
    span: DateSpan,
) -> QueryResult<Vec<BatchRow>> {
    Batches::new(store, span.from().into(), span.to().into()).load(conn).await
}
