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

statement!(ActForReview { district: &'a str } =
    "SELECT act_for_review(", district: Text, ") IS NULL");

/// Hands over to the part that compares stores of the whole network, until the transaction ends; it
/// only reads.
///
/// # Errors
/// When the acting person may not review the district.
pub async fn act_for_review(
    conn: &mut AsyncPgConnection,
    district: &DistrictId,
) -> QueryResult<()> {
    ActForReview::new(district.as_str()).execute(conn).await.map(|_| ())
}

/// A night whose count was amended after it had been accepted.
#[derive(Debug, QueryableByName)]
pub struct AmendedRow {
    /// The store.
    #[diesel(sql_type = Text)]
    pub store_id: String,
    /// The date.
    #[diesel(sql_type = Date)]
    pub business_date: NaiveDate,
    /// As it was accepted first.
    #[diesel(sql_type = Jsonb)]
    pub first: Json<Count>,
    /// As it is in force.
    #[diesel(sql_type = Jsonb)]
    pub last: Json<Count>,
}

statement!(Amended { from: NaiveDate, to: NaiveDate } =
    "WITH asked AS (SELECT ", from: Date, " AS first, ", to: Date, " AS last),
     accepted AS (
       SELECT r.store_id, r.business_date, min(r.revision) AS earliest, max(r.revision) AS latest
       FROM asked JOIN night_revisions r ON r.business_date BETWEEN first AND last
       LEFT JOIN night_settlements s USING (store_id, business_date, revision)
       WHERE r.state = 'accepted' OR s.outcome = 'accepted'
       GROUP BY r.store_id, r.business_date HAVING count(*) > 1)
     SELECT a.store_id, a.business_date, e.body AS first, l.body AS last
     FROM accepted a
     JOIN night_revisions e ON e.store_id = a.store_id AND e.business_date = a.business_date
       AND e.revision = a.earliest
     JOIN night_revisions l ON l.store_id = a.store_id AND l.business_date = a.business_date
       AND l.revision = a.latest
     ORDER BY a.store_id, a.business_date");

/// Nights of a span whose counts were amended, in order of store and date.
///
/// # Errors
/// When the database cannot be reached.
pub async fn amended(conn: &mut AsyncPgConnection, span: DateSpan) -> QueryResult<Vec<AmendedRow>> {
    Amended::new(span.from().into(), span.to().into()).load(conn).await
}

/// A lot that a store wrote down of an item on a date.
#[derive(Debug, QueryableByName)]
pub struct LotRow {
    /// The store.
    #[diesel(sql_type = Text)]
    pub store_id: String,
    /// The date.
    #[diesel(sql_type = Date)]
    pub business_date: NaiveDate,
    /// The item.
    #[diesel(sql_type = Text)]
    pub item_id: String,
    /// The supplier's lot.
    #[diesel(sql_type = Text)]
    pub lot: String,
}

statement!(Lots { from: NaiveDate, to: NaiveDate } =
    "SELECT store_id, business_date, item_id, lot FROM lots_in_review(", from: Date, ", ", to: Date,
    ")");

/// The lots that stores wrote down in a span.
///
/// # Errors
/// When the database cannot be reached.
pub async fn lots(conn: &mut AsyncPgConnection, span: DateSpan) -> QueryResult<Vec<LotRow>> {
    Lots::new(span.from().into(), span.to().into()).load(conn).await
}
