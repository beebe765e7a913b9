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
    /// The count as typed.
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
    /// When it was recorded.
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
    /// Why it became that, where somebody said.
    #[diesel(sql_type = Nullable<Text>)]
    pub settled_reason: Option<String>,
    /// By whom; nobody when the next opening came first.
    #[diesel(sql_type = Nullable<SqlUuid>)]
    pub settled_by: Option<Uuid>,
    /// When it became that.
    #[diesel(sql_type = Nullable<Timestamptz>)]
    pub settled_at: Option<DateTime<Utc>>,
    /// The answers given to it: a list of documents.
    #[diesel(sql_type = Jsonb)]
    pub answers: Value,
}

statement!(Lives<'a> { store: &'a str => Text, date: NaiveDate => Date } = "nights/lives.sql");

/// Every revision of a night's count with what became of it, oldest first.
///
/// # Errors
/// When the database cannot be reached.
pub async fn lives(
    conn: &mut AsyncPgConnection,
    store: &StoreId,
    date: BusinessDate,
) -> QueryResult<Vec<LifeRow>> {
    Lives { store: store.as_str(), date: date.into() }.load(conn).await
}

statement!(AddRevision<'a> {
    date: NaiveDate => Date,
    store: &'a str => Text,
    revision: i32 => Integer,
    body: &'a Json<Count> => Jsonb,
    reason: Option<&'a str> => Nullable<Text>,
    state: &'a str => Text,
    checks: &'a Value => Jsonb,
    proposal: Option<&'a Value> => Nullable<Jsonb>,
    shelves: &'a [u8] => Binary,
    district: &'a str => Text,
    region: &'a str => Text,
    owner: &'a str => Text,
    by: Uuid => SqlUuid,
    at: DateTime<Utc> => Timestamptz,
    write: Uuid => SqlUuid,
} = "nights/add_revision.sql");

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
    AddRevision {
        date: date.into(),
        store: standing.store.as_str(),
        revision: row.revision,
        body: &row.body,
        reason: row.reason.as_deref(),
        state: &row.state,
        checks: &row.checks,
        proposal: row.proposal.as_ref(),
        shelves: &shelves::pack(&row.body.0.lines),
        district: standing.district.as_str(),
        region: standing.region.as_str(),
        owner: standing.owner.as_str(),
        by: row.submitted_by,
        at: row.recorded_at,
        write: write.0,
    }
    .execute(conn)
    .await
    .map(|_| ())
}

#[derive(QueryableByName)]
struct Accepted {
    #[diesel(sql_type = Nullable<Timestamptz>)]
    at: Option<DateTime<Utc>>,
}

statement!(FirstAccepted<'a> {
    store: &'a str => Text,
    date: NaiveDate => Date,
} = "nights/first_accepted.sql");

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
    let found: Accepted =
        FirstAccepted { store: store.as_str(), date: date.into() }.get_result(conn).await?;
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

statement!(Facts<'a> {
    store: &'a str => Text,
    date: NaiveDate => Date,
    known_at: DateTime<Utc> => Timestamptz,
} = "nights/facts.sql");

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
        Facts { store: store.as_str(), date: date.into(), known_at }.get_result(&mut conn).await?;
    let left_out = row.left_out.unwrap_or_default();
    let facts = DayFacts {
        entries: row.entries.0,
        till: row.till.0,
        count: row.count.map(|Json(count)| count),
        left_out: left_out.iter().map(|item| code(item)).collect::<QueryResult<_>>()?,
    };
    Ok((facts, row.revision))
}
