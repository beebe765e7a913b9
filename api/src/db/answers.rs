//! Answers to what was asked about counts.

use chrono::{DateTime, NaiveDate, Utc};
use diesel::sql_types::{BigInt, Date, Integer, Jsonb, Text, Timestamptz, Uuid as SqlUuid};
use diesel::{QueryResult, QueryableByName};
use diesel_async::{AsyncPgConnection, RunQueryDsl};
use parings_core::access::Standing;
use parings_core::calendar::BusinessDate;
use parings_core::ids::{PersonId, WriteId};
use serde_json::Value;

use super::statement::statement;

/// An answer to add.
#[derive(Debug, Clone)]
pub struct NewAnswer<'a> {
    /// The number of the revision that it is about.
    pub revision: i32,
    /// The check's id.
    pub check: &'a str,
    /// What was answered.
    pub answer: &'a Value,
    /// By whom.
    pub by: PersonId,
    /// When.
    pub at: DateTime<Utc>,
    /// The write it comes with.
    pub write: WriteId,
}

statement!(Add { date: NaiveDate, store: &'a str, revision: i32, check: &'a str, answer: &'a Value,
    district: &'a str, region: &'a str, owner: &'a str, by: uuid::Uuid, at: DateTime<Utc>,
    write: uuid::Uuid } =
    "INSERT INTO night_answers (business_date, store_id, revision, check_id, answer, district_id,
     region_id, owner_id, answered_by, recorded_at, write_id) VALUES (",
    date: Date, ", ", store: Text, ", ", revision: Integer, ", ", check: Text, ", ",
    answer: Jsonb, ", ", district: Text, ", ", region: Text, ", ", owner: Text, ", ",
    by: SqlUuid, ", ", at: Timestamptz, ", ", write: SqlUuid, ")");

/// Keeps an answer.
///
/// # Errors
/// When the acting person may not, or the check was answered.
pub async fn add(
    conn: &mut AsyncPgConnection,
    standing: &Standing,
    date: BusinessDate,
    new: &NewAnswer<'_>,
) -> QueryResult<()> {
    Add::new(
        date.into(),
        standing.store.as_str(),
        new.revision,
        new.check,
        new.answer,
        standing.district.as_str(),
        standing.region.as_str(),
        standing.owner.as_str(),
        new.by.0,
        new.at,
        new.write.0,
    )
    .execute(conn)
    .await
    .map(|_| ())
}

/// How often a question was answered *it is right*.
#[derive(Debug, Clone, QueryableByName)]
pub struct RepeatedRow {
    /// The kind's word.
    #[diesel(sql_type = Text)]
    pub kind: String,
    /// The item's code; empty for the night as a whole.
    #[diesel(sql_type = Text)]
    pub item: String,
    /// The store.
    #[diesel(sql_type = Text)]
    pub store_id: String,
    /// How often.
    #[diesel(sql_type = BigInt)]
    pub times: i64,
    /// On which date first.
    #[diesel(sql_type = Date)]
    pub since: NaiveDate,
    /// On which date last.
    #[diesel(sql_type = Date)]
    pub last: NaiveDate,
}

statement!(Repeated { from: NaiveDate, to: NaiveDate, least: i64 } =
    "SELECT * FROM (
       SELECT c ->> 'kind' AS kind, coalesce(c #>> '{about,item}', '') AS item, a.store_id,
         count(DISTINCT a.business_date) AS times, min(a.business_date) AS since,
         max(a.business_date) AS last
       FROM night_answers a
         JOIN night_revisions r USING (business_date, store_id, revision)
         CROSS JOIN LATERAL jsonb_array_elements(r.checks) c
       WHERE a.business_date >= ", from: Date, " AND a.business_date <= ", to: Date,
    " AND a.answer ->> 'answer' IN ('as_typed', 'counted_again') AND NOT a.answer ? 'lines'
         AND a.check_id = c ->> 'id'
       GROUP BY 1, 2, 3) AS found
     WHERE times >= ", least: BigInt, " ORDER BY kind, item, store_id");

/// Which questions were answered *it is right* on at least so many nights of a store between two
/// dates. A recount that came out otherwise is not such an answer.
///
/// # Errors
/// When the database cannot be reached.
pub async fn repeated(
    conn: &mut AsyncPgConnection,
    from: BusinessDate,
    to: BusinessDate,
    least: i64,
) -> QueryResult<Vec<RepeatedRow>> {
    Repeated::new(from.into(), to.into(), least).load(conn).await
}
