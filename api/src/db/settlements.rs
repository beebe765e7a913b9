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

statement!(Add<'a> {
    date: NaiveDate => Date,
    store: &'a str => Text,
    revision: i32 => Integer,
    outcome: &'a str => Text,
    left_out: &'a [&'a str] => Array<Text>,
    reason: Option<&'a str> => Nullable<Text>,
    district: &'a str => Text,
    region: &'a str => Text,
    owner: &'a str => Text,
    by: Option<uuid::Uuid> => Nullable<SqlUuid>,
    at: DateTime<Utc> => Timestamptz,
} = "settlements/add.sql");

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
    Add {
        date: date.into(),
        store: standing.store.as_str(),
        revision: settlement.revision,
        outcome: settlement.settled.word(),
        left_out: &left_out,
        reason: settlement.reason,
        district: standing.district.as_str(),
        region: standing.region.as_str(),
        owner: standing.owner.as_str(),
        by: settlement.by.map(|person| person.0),
        at: settlement.at,
    }
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

statement!(Held { since: NaiveDate => Date } = "settlements/held.sql");

/// The held counts that wait, of all stores, from a date on; none while somebody acts.
///
/// # Errors
/// When the database cannot be reached.
pub async fn held(
    conn: &mut AsyncPgConnection,
    since: BusinessDate,
) -> QueryResult<Vec<(StoreId, BusinessDate, i32)>> {
    let rows: Vec<HeldRow> = Held { since: since.into() }.load(conn).await?;
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

statement!(Waiting {
    from: NaiveDate => Date,
    to: NaiveDate => Date,
    at: DateTime<Utc> => Timestamptz,
} = "settlements/waiting.sql");

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
        Waiting { from: span.from().into(), to: span.to().into(), at }.load(conn).await?;
    Ok(rows.into_iter().map(|row| (row.store_id, row.business_date)).collect())
}
