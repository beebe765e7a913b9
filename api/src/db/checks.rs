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

statement!(InForce { store: &'a str, from: NaiveDate, before: NaiveDate } =
    "SELECT r.business_date, r.recorded_at, r.body FROM nights t
       JOIN night_revisions r ON r.store_id = t.store_id AND r.business_date = t.business_date
         AND r.revision = t.revision
     WHERE t.store_id = ", store: Text, " AND t.business_date >= ", from: Date,
    " AND t.business_date < ", before: Date, " ORDER BY t.business_date DESC");

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
    InForce::new(store.as_str(), from.into(), before.into()).load(conn).await
}

statement!(Sent { store: &'a str, from: NaiveDate, since: DateTime<Utc> } =
    "SELECT business_date, recorded_at, body FROM night_revisions WHERE store_id = ", store: Text,
    " AND business_date >= ", from: Date, " AND recorded_at >= ", since: Timestamptz,
    " ORDER BY recorded_at DESC");

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
    Sent::new(store.as_str(), from.into(), since).load(conn).await
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

statement!(Elsewhere { by: Uuid, stores: &'a [&'a str], from: NaiveDate, since: DateTime<Utc> } =
    "WITH asked AS (SELECT ", by: SqlUuid, " AS person, ", stores: Array<Text>, " AS stores, ",
    from: Date, " AS first, ", since: Timestamptz, " AS since)
     SELECT e.store_id, max(e.recorded_at) AS recorded_at FROM asked a, entries e
     WHERE e.store_id = ANY (a.stores) AND e.business_date >= a.first
       AND e.recorded_at >= a.since AND e.recorded_by = a.person GROUP BY e.store_id
     UNION ALL
     SELECT r.store_id, max(r.recorded_at) FROM asked a, night_revisions r
     WHERE r.store_id = ANY (a.stores) AND r.business_date >= a.first
       AND r.recorded_at >= a.since AND r.submitted_by = a.person GROUP BY r.store_id");

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
    Elsewhere::new(by.0, stores, from.into(), since).load(conn).await
}

statement!(Changed { after: NaiveDate, until: NaiveDate, known: DateTime<Utc> } =
    "WITH asked AS (SELECT ", after: Date, " AS after, ", until: Date, " AS until, ",
    known: Timestamptz, " AS known)
     SELECT v.id, v.kind, v.code, v.valid_from, v.recorded_at, v.recorded_by, v.reason, v.retired,
       v.body
     FROM asked a, reference_versions v
     WHERE v.kind IN ('prices', 'products') AND NOT v.retired AND v.valid_from > a.after
       AND v.valid_from <= a.until AND v.recorded_at <= a.known
       AND EXISTS (SELECT FROM reference_versions w WHERE w.kind = v.kind AND w.code = v.code
         AND w.valid_from < v.valid_from AND w.recorded_at <= a.known)");

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
    Changed::new(after.into(), until.into(), known).load(conn).await
}

#[derive(QueryableByName)]
struct LeftRow {
    #[diesel(sql_type = Text)]
    name: String,
}

statement!(LeftOf { ids: &'a [Uuid] } = "SELECT name FROM left_of(", ids: Array<SqlUuid>, ")");

/// The names of those of some people whose account has ended; only crew and managers are told.
///
/// # Errors
/// When the database cannot be reached.
pub async fn left_of(conn: &mut AsyncPgConnection, ids: &[Uuid]) -> QueryResult<Vec<String>> {
    let rows: Vec<LeftRow> = LeftOf::new(ids).load(conn).await?;
    Ok(rows.into_iter().map(|row| row.name).collect())
}
