//! What became of counts that were held or proposed.

use chrono::{DateTime, NaiveDate, Utc};
use diesel::sql_types::{Date, Integer, Text, Timestamptz};
use diesel::{ExpressionMethods, QueryResult, QueryableByName};
use diesel_async::{AsyncPgConnection, RunQueryDsl};
use parings_core::access::Standing;
use parings_core::calendar::{BusinessDate, DateSpan};
use parings_core::ids::{ItemId, PersonId, StoreId};
use parings_core::night::Settled;

use super::schema::night_settlements;
use super::statement::statement;
use super::tallies::code;

/// What became of a revision.
#[derive(Debug, Clone)]
pub struct Settlement<'a> {
    /// The revision's number.
    pub revision: i32,
    /// Whether it was accepted, declined or overtaken.
    pub settled: Settled,
    /// Items whose counts are not relied on.
    pub left_out: &'a [&'a ItemId],
    /// Why, where somebody said.
    pub reason: Option<&'a str>,
    /// By whom; nobody at the next opening.
    pub by: Option<PersonId>,
    /// When it was settled.
    pub at: DateTime<Utc>,
}

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
    diesel::insert_into(night_settlements::table)
        .values((
            night_settlements::business_date.eq(NaiveDate::from(date)),
            night_settlements::store_id.eq(standing.store.as_str()),
            night_settlements::revision.eq(settlement.revision),
            night_settlements::outcome.eq(settlement.settled.word()),
            night_settlements::left_out.eq(left_out),
            night_settlements::reason.eq(settlement.reason),
            night_settlements::district_id.eq(standing.district.as_str()),
            night_settlements::region_id.eq(standing.region.as_str()),
            night_settlements::owner_id.eq(standing.owner.as_str()),
            night_settlements::settled_by.eq(settlement.by.map(|person| person.0)),
            night_settlements::recorded_at.eq(settlement.at),
        ))
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
