//! The facts of a night: revisions of its count, and all of them together for the rules.

use chrono::{DateTime, NaiveDate, Utc};
use diesel::sql_types::{
    Array, Binary, Date, Integer, Jsonb, Nullable, Text, Timestamptz, Uuid as SqlUuid,
};
use diesel::{QueryResult, QueryableByName};
use diesel_async::{AsyncPgConnection, RunQueryDsl};
use parings_core::access::Standing;
use parings_core::calendar::BusinessDate;
use parings_core::ids::{StoreId, WriteId};
use parings_core::night::{Count, Entry, TillBatch, shelves};
use parings_core::tally::DayFacts;
use serde_json::Value;
use uuid::Uuid;

use super::json::Json;
use super::statement::statement;
use super::tallies::code;

/// A revision of a night's count.
#[derive(Debug, Clone, QueryableByName)]
pub struct RevisionRow {
    /// Its number, from 1.
    #[diesel(sql_type = Integer)]
    pub revision: i32,
    /// The count.
    #[diesel(sql_type = Jsonb)]
    pub body: Json<Count>,
    /// Why it was revised.
    #[diesel(sql_type = Nullable<Text>)]
    pub reason: Option<String>,
    /// The word of the [`State`](parings_core::night::State) it came in.
    #[diesel(sql_type = Text)]
    pub state: String,
    /// What was asked, said or left out when it came.
    #[diesel(sql_type = Jsonb)]
    pub checks: Value,
    /// Entries to be made and withdrawn with it, of a proposed one.
    #[diesel(sql_type = Nullable<Jsonb>)]
    pub proposal: Option<Value>,
    /// Who submitted it.
    #[diesel(sql_type = SqlUuid)]
    pub submitted_by: Uuid,
    /// When.
    #[diesel(sql_type = Timestamptz)]
    pub recorded_at: DateTime<Utc>,
}

/// A revision of a night's count, and what became of it.
#[derive(Debug, Clone, QueryableByName)]
pub struct LifeRow {
    /// As it came.
    #[diesel(embed)]
    pub revision: RevisionRow,
    /// The word of what became of it, if it waited and does no longer.
    #[diesel(sql_type = Nullable<Text>)]
    pub outcome: Option<String>,
    /// Items left out with that.
    #[diesel(sql_type = Nullable<Array<Text>>)]
    pub left_out: Option<Vec<String>>,
    /// Why.
    #[diesel(sql_type = Nullable<Text>)]
    pub settled_reason: Option<String>,
    /// By whom; nobody when the next opening came first.
    #[diesel(sql_type = Nullable<SqlUuid>)]
    pub settled_by: Option<Uuid>,
    /// When.
    #[diesel(sql_type = Nullable<Timestamptz>)]
    pub settled_at: Option<DateTime<Utc>>,
    /// The answers given to it: a list of documents.
    #[diesel(sql_type = Jsonb)]
    pub answers: Value,
}

statement!(Lives { store: &'a str, date: NaiveDate } =
    "SELECT r.revision, r.body, r.reason, r.state, r.checks, r.proposal, r.submitted_by,
       r.recorded_at, s.outcome, s.left_out, s.reason AS settled_reason, s.settled_by,
       s.recorded_at AS settled_at, (SELECT coalesce(jsonb_agg(jsonb_build_object('check',
         a.check_id, 'answer', a.answer, 'by', a.answered_by, 'at', a.recorded_at)
         ORDER BY a.recorded_at, a.check_id), '[]') FROM night_answers a
         WHERE a.store_id = r.store_id AND a.business_date = r.business_date
           AND a.revision = r.revision) AS answers
     FROM night_revisions r LEFT JOIN night_settlements s ON s.store_id = r.store_id
       AND s.business_date = r.business_date AND s.revision = r.revision
     WHERE r.store_id = ", store: Text, " AND r.business_date = ", date: Date,
    " ORDER BY r.revision");

/// Every revision of a night's count with what became of it, oldest first.
///
/// # Errors
/// When the database cannot be reached.
pub async fn lives(
    mut conn: &AsyncPgConnection,
    store: &StoreId,
    date: BusinessDate,
) -> QueryResult<Vec<LifeRow>> {
    Lives::new(store.as_str(), date.into()).load(&mut conn).await
}

statement!(Add { date: NaiveDate, store: &'a str, revision: i32, body: &'a Json<Count>,
    reason: Option<&'a str>, state: &'a str, checks: &'a Value, proposal: Option<&'a Value>,
    shelves: &'a [u8],
    district: &'a str, region: &'a str, owner: &'a str, by: Uuid, at: DateTime<Utc>, write: Uuid } =
    "INSERT INTO night_revisions (business_date, store_id, revision, body, reason, state, checks,
     proposal, shelves, district_id, region_id, owner_id, submitted_by, recorded_at, write_id)
     VALUES (",
    date: Date, ", ", store: Text, ", ", revision: Integer, ", ", body: Jsonb, ", ",
    reason: Nullable<Text>, ", ", state: Text, ", ", checks: Jsonb, ", ",
    proposal: Nullable<Jsonb>, ", ", shelves: Binary, ", ", district: Text, ", ", region: Text, ", ", owner: Text, ", ",
    by: SqlUuid, ", ", at: Timestamptz, ", ", write: SqlUuid, ")");

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
        &row.state,
        &row.checks,
        row.proposal.as_ref(),
        &shelves::pack(&row.body.0.lines),
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
struct Accepted {
    #[diesel(sql_type = Nullable<Timestamptz>)]
    at: Option<DateTime<Utc>>,
}

statement!(FirstAccepted { store: &'a str, date: NaiveDate } =
    "SELECT first_accepted(", store: Text, ", ", date: Date, ") AS at");

/// When the count of a night was first accepted, for whoever may record in the store or read its
/// nights: what is recorded later comes late.
///
/// # Errors
/// When the database cannot be reached.
pub async fn first_accepted(
    conn: &mut AsyncPgConnection,
    store: &StoreId,
    date: BusinessDate,
) -> QueryResult<Option<DateTime<Utc>>> {
    let found: Accepted = FirstAccepted::new(store.as_str(), date.into()).get_result(conn).await?;
    Ok(found.at)
}

/// Later than any fact: what is known at this moment is all that is known.
pub fn ever() -> DateTime<Utc> {
    DateTime::<Utc>::MAX_UTC
}

#[derive(QueryableByName)]
struct FactsRow {
    #[diesel(sql_type = Jsonb)]
    entries: Json<Vec<Entry>>,
    #[diesel(sql_type = Jsonb)]
    till: Json<Vec<TillBatch>>,
    #[diesel(sql_type = Nullable<Jsonb>)]
    count: Option<Json<Count>>,
    #[diesel(sql_type = Nullable<Integer>)]
    revision: Option<i32>,
    #[diesel(sql_type = Nullable<Array<Text>>)]
    left_out: Option<Vec<String>>,
}

statement!(Facts { store: &'a str, date: NaiveDate, known_at: DateTime<Utc> } =
    "WITH night AS (SELECT ", store: Text, " AS store, ", date: Date, " AS date, ",
    known_at: Timestamptz, " AS known_at)
     SELECT f.entries, t.till, n.body AS count, n.revision, n.left_out FROM night a,
     LATERAL (SELECT coalesce(jsonb_agg(jsonb_build_object('id', e.id, 'body', e.body)
        ORDER BY e.recorded_at, e.id), '[]') AS entries
      FROM entries e WHERE e.store_id = a.store AND e.business_date = a.date
        AND e.recorded_at <= a.known_at AND NOT EXISTS (SELECT FROM entry_withdrawals w
          WHERE w.entry_id = e.id AND w.withdrawn_at <= a.known_at)) f,
     LATERAL (SELECT coalesce(jsonb_agg(b.body ORDER BY b.recorded_at, b.batch_id), '[]') AS till
      FROM till_batches b WHERE b.store_id = a.store AND b.business_date = a.date
        AND b.recorded_at <= a.known_at) t
     LEFT JOIN LATERAL (SELECT r.body, r.revision, s.left_out FROM night_revisions r
      LEFT JOIN night_settlements s ON s.store_id = r.store_id
        AND s.business_date = r.business_date AND s.revision = r.revision
        AND s.recorded_at <= a.known_at
      WHERE r.store_id = a.store AND r.business_date = a.date AND r.recorded_at <= a.known_at
        AND (r.state = 'accepted' OR s.outcome = 'accepted')
      ORDER BY r.revision DESC LIMIT 1) n ON true");

/// Everything recorded of a night up to a moment ([`ever`] for all of it), as the rules take it, and
/// the revision of the count in force: of those accepted, the last.
///
/// # Errors
/// When the database cannot be reached, or a document is of no shape the rules know.
pub async fn facts(
    mut conn: &AsyncPgConnection,
    store: &StoreId,
    date: BusinessDate,
    known_at: DateTime<Utc>,
) -> QueryResult<(DayFacts, Option<i32>)> {
    let row: FactsRow =
        Facts::new(store.as_str(), date.into(), known_at).get_result(&mut conn).await?;
    let left_out = row.left_out.unwrap_or_default();
    let facts = DayFacts {
        entries: row.entries.0,
        till: row.till.0,
        count: row.count.map(|Json(count)| count),
        left_out: left_out.iter().map(|item| code(item)).collect::<QueryResult<_>>()?,
    };
    Ok((facts, row.revision))
}
