//! What became of counts that were held or proposed.

use chrono::{DateTime, NaiveDate, Utc};
use diesel::sql_types::{Array, Date, Integer, Nullable, Text, Timestamptz, Uuid as SqlUuid};
use diesel::{QueryResult, QueryableByName};
use diesel_async::{AsyncPgConnection, RunQueryDsl};
use parings_core::access::Standing;
use parings_core::calendar::{BusinessDate, DateSpan};
use parings_core::ids::{ItemId, PersonId, StoreId};
use parings_core::night::Settled;

use super::statement::statement;
use super::tallies::code;

/// What became of a revision.
#[derive(Debug, Clone)]
pub struct Settlement<'a> {
    /// The revision's number.
    pub revision: i32,
    /// What.
    pub settled: Settled,
    /// Items whose counts are not relied on.
    pub left_out: &'a [&'a ItemId],
    /// Why, where somebody said.
    pub reason: Option<&'a str>,
    /// By whom; nobody at the next opening.
    pub by: Option<PersonId>,
    /// When.
    pub at: DateTime<Utc>,
}

statement!(Add { date: NaiveDate, store: &'a str, revision: i32, outcome: &'a str,
    left_out: &'a [&'a str], reason: Option<&'a str>, district: &'a str, region: &'a str,
    owner: &'a str, by: Option<uuid::Uuid>, at: DateTime<Utc> } =
    "INSERT INTO night_settlements (business_date, store_id, revision, outcome, left_out, reason,
     district_id, region_id, owner_id, settled_by, recorded_at) VALUES (",
    date: Date, ", ", store: Text, ", ", revision: Integer, ", ", outcome: Text, ", ",
    left_out: Array<Text>, ", ", reason: Nullable<Text>, ", ", district: Text, ", ", region: Text,
    ", ", owner: Text, ", ", by: Nullable<SqlUuid>, ", ", at: Timestamptz, ")");

/// Settles a revision, once.
///
/// # Errors
/// When the acting part may not, or the revision is settled.
pub async fn add(
    conn: &mut AsyncPgConnection,
    standing: &Standing,
    date: BusinessDate,
    settlement: &Settlement<'_>,
) -> QueryResult<()> {
    let left_out: Vec<&str> = settlement.left_out.iter().map(|item| item.as_str()).collect();
    Add::new(
        date.into(),
        standing.store.as_str(),
        settlement.revision,
        settlement.settled.word(),
        &left_out,
        settlement.reason,
        standing.district.as_str(),
        standing.region.as_str(),
        standing.owner.as_str(),
        settlement.by.map(|person| person.0),
        settlement.at,
    )
    .execute(conn)
    .await
    .map(|_| ())
}

#[derive(QueryableByName)]
struct HeldRow {
    #[diesel(sql_type = Date)]
    business_date: NaiveDate,
    #[diesel(sql_type = Text)]
    store_id: String,
    #[diesel(sql_type = Integer)]
    revision: i32,
}

statement!(Held { since: NaiveDate } =
    "SELECT business_date, store_id, revision FROM nights_held(", since: Date, ")");

/// The held counts that wait, of all stores, from a date on; none while somebody acts.
///
/// # Errors
/// When the database cannot be reached.
pub async fn held(
    conn: &mut AsyncPgConnection,
    since: BusinessDate,
) -> QueryResult<Vec<(StoreId, BusinessDate, i32)>> {
    let rows: Vec<HeldRow> = Held::new(since.into()).load(conn).await?;
    let held = |row: HeldRow| Ok((code(&row.store_id)?, row.business_date.into(), row.revision));
    rows.into_iter().map(held).collect()
}

/// A night with a count that waits.
#[derive(QueryableByName)]
struct WaitingRow {
    #[diesel(sql_type = Text)]
    store_id: String,
    #[diesel(sql_type = Date)]
    business_date: NaiveDate,
}

statement!(Waiting { from: NaiveDate, to: NaiveDate, at: DateTime<Utc> } =
    "WITH asked AS (SELECT ", from: Date, " AS first, ", to: Date, " AS last, ",
    at: Timestamptz, " AS at)
     SELECT DISTINCT r.store_id, r.business_date FROM asked, night_revisions r
     WHERE r.business_date BETWEEN first AND last AND r.state <> 'accepted' AND r.recorded_at <= at
       AND NOT EXISTS (
         SELECT FROM night_settlements s
         WHERE s.business_date = r.business_date AND s.store_id = r.store_id
           AND s.revision = r.revision AND s.recorded_at <= at)");

/// Nights, of every store the acting person sees, with a count that waited at a moment: for an
/// answer, or for approval.
///
/// # Errors
/// When the database cannot be reached.
pub async fn waiting(
    conn: &mut AsyncPgConnection,
    span: DateSpan,
    at: DateTime<Utc>,
) -> QueryResult<Vec<(String, NaiveDate)>> {
    let rows: Vec<WaitingRow> =
        Waiting::new(span.from().into(), span.to().into(), at).load(conn).await?;
    Ok(rows.into_iter().map(|row| (row.store_id, row.business_date)).collect())
}
