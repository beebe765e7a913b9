//! The facts of a night: revisions of its count, and all of them together for the rules.

use std::str::FromStr;

use chrono::{DateTime, NaiveDate, Utc};
use diesel::sql_types::{
    Array, Date, Integer, Jsonb, Nullable, Text, Timestamptz, Uuid as SqlUuid,
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
use super::tallies::code;

/// What became of a revision when it came.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum State {
    /// It stands.
    Accepted,
    /// It waits for answers.
    Held,
    /// It waits for another person's approval.
    Proposed,
}

impl State {
    /// Its word.
    pub fn word(self) -> &'static str {
        match self {
            Self::Accepted => "accepted",
            Self::Held => "held",
            Self::Proposed => "proposed",
        }
    }
}

impl FromStr for State {
    type Err = diesel::result::Error;
    fn from_str(word: &str) -> QueryResult<Self> {
        [Self::Accepted, Self::Held, Self::Proposed]
            .into_iter()
            .find(|state| state.word() == word)
            .ok_or_else(|| diesel::result::Error::DeserializationError(word.into()))
    }
}

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
    /// The word of the [`State`] it came in.
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

statement!(Latest { store: &'a str, date: NaiveDate } =
    "SELECT revision, body, reason, state, checks, proposal, submitted_by, recorded_at
     FROM night_revisions WHERE store_id = ", store: Text, " AND business_date = ", date: Date,
    " ORDER BY revision DESC LIMIT 1");

/// The last revision of a night's count, whatever became of it.
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

statement!(Numbered { store: &'a str, date: NaiveDate, revision: i32 } =
    "SELECT revision, body, reason, state, checks, proposal, submitted_by, recorded_at
     FROM night_revisions WHERE store_id = ", store: Text, " AND business_date = ", date: Date,
    " AND revision = ", revision: Integer, "");

/// A revision by its number.
///
/// # Errors
/// When there is none, or the database cannot be reached.
pub async fn numbered(
    conn: &mut AsyncPgConnection,
    store: &StoreId,
    date: BusinessDate,
    revision: i32,
) -> QueryResult<RevisionRow> {
    Numbered::new(store.as_str(), date.into(), revision).get_result(conn).await
}

statement!(Revisions { store: &'a str, date: NaiveDate } =
    "SELECT revision, body, reason, state, checks, proposal, submitted_by, recorded_at
     FROM night_revisions WHERE store_id = ", store: Text, " AND business_date = ", date: Date,
    " ORDER BY revision");

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
    reason: Option<&'a str>, state: &'a str, checks: &'a Value, proposal: Option<&'a Value>,
    district: &'a str, region: &'a str, owner: &'a str, by: Uuid, at: DateTime<Utc>, write: Uuid } =
    "INSERT INTO night_revisions (business_date, store_id, revision, body, reason, state, checks,
     proposal, district_id, region_id, owner_id, submitted_by, recorded_at, write_id) VALUES (",
    date: Date, ", ", store: Text, ", ", revision: Integer, ", ", body: Jsonb, ", ",
    reason: Nullable<Text>, ", ", state: Text, ", ", checks: Jsonb, ", ",
    proposal: Nullable<Jsonb>, ", ", district: Text, ", ", region: Text, ", ", owner: Text, ", ",
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
    entries: Value,
    #[diesel(sql_type = Jsonb)]
    till: Value,
    #[diesel(sql_type = Nullable<Jsonb>)]
    count: Option<Value>,
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
    conn: &mut AsyncPgConnection,
    store: &StoreId,
    date: BusinessDate,
    known_at: DateTime<Utc>,
) -> QueryResult<(DayFacts, Option<i32>)> {
    let row: FactsRow = Facts::new(store.as_str(), date.into(), known_at).get_result(conn).await?;
    let left_out = row.left_out.unwrap_or_default();
    let facts = DayFacts {
        entries: document(row.entries)?,
        till: document(row.till)?,
        count: row.count.map(document::<Count>).transpose()?,
        left_out: left_out.iter().map(|item| code(item)).collect::<QueryResult<_>>()?,
    };
    Ok((facts, row.revision))
}

fn document<T: serde::de::DeserializeOwned>(value: Value) -> QueryResult<T> {
    serde_json::from_value(value).map_err(|e| diesel::result::Error::DeserializationError(e.into()))
}
