//! Who reviews, what amendments did, and which lots stores wrote down.

use chrono::NaiveDate;
use diesel::sql_types::{Date, Jsonb, Text};
use diesel::{QueryResult, QueryableByName};
use diesel_async::{AsyncPgConnection, RunQueryDsl};
use parings_core::calendar::DateSpan;
use parings_core::ids::DistrictId;
use parings_core::night::Count;

use super::json::Json;
use super::statement::statement;

statement!(ActForReview<'a> { district: &'a str => Text } = "review/act_for_review.sql");

/// Hands over to the part that compares stores of the whole network, until the transaction ends; it
/// only reads.
///
/// # Errors
/// When the acting person may not review the district.
pub async fn act_for_review(
    conn: &mut AsyncPgConnection,
    district: &DistrictId,
) -> QueryResult<()> {
    ActForReview { district: district.as_str() }.execute(conn).await.map(|_| ())
}

/// A night whose count was amended after it had been accepted.
#[derive(Debug, QueryableByName)]
pub struct AmendedRow {
    /// The code of the store.
    #[diesel(sql_type = Text)]
    pub store_id: String,
    /// The business date of the night.
    #[diesel(sql_type = Date)]
    pub business_date: NaiveDate,
    /// As it was accepted first.
    #[diesel(sql_type = Jsonb)]
    pub first: Json<Count>,
    /// As it is in force.
    #[diesel(sql_type = Jsonb)]
    pub last: Json<Count>,
}

statement!(Amended { from: NaiveDate => Date, to: NaiveDate => Date } = "review/amended.sql");

/// Nights of a span whose counts were amended, in order of store and date.
///
/// # Errors
/// When the database cannot be reached.
pub async fn amended(conn: &mut AsyncPgConnection, span: DateSpan) -> QueryResult<Vec<AmendedRow>> {
    Amended { from: span.from().into(), to: span.to().into() }.load(conn).await
}

/// A lot that a store wrote down of an item on a date.
#[derive(Debug, QueryableByName)]
pub struct LotRow {
    /// The code of the store.
    #[diesel(sql_type = Text)]
    pub store_id: String,
    /// The business date that it was written down for.
    #[diesel(sql_type = Date)]
    pub business_date: NaiveDate,
    /// The code of the item.
    #[diesel(sql_type = Text)]
    pub item_id: String,
    /// The supplier's lot.
    #[diesel(sql_type = Text)]
    pub lot: String,
}

statement!(Lots { from: NaiveDate => Date, to: NaiveDate => Date } = "review/lots.sql");

/// The lots that stores wrote down in a span.
///
/// # Errors
/// When the database cannot be reached.
pub async fn lots(conn: &mut AsyncPgConnection, span: DateSpan) -> QueryResult<Vec<LotRow>> {
    Lots { from: span.from().into(), to: span.to().into() }.load(conn).await
}
