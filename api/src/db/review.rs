//! Who reviews, and what amendments did.

use std::collections::BTreeMap;

use chrono::NaiveDate;
use diesel::sql_types::{Date, Jsonb, SmallInt, Text};
use diesel::{QueryResult, QueryableByName};
use diesel_async::{AsyncPgConnection, RunQueryDsl};
use parings_core::calendar::DateSpan;
use parings_core::ids::{DistrictId, ItemId};
use parings_core::night::Count;
use parings_core::tally::RULES;

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
    /// What a thousandth of a base unit of each item that is compared costs, in ten-thousandths of the
    /// currency's unit.
    #[diesel(sql_type = Jsonb)]
    pub prices: Json<BTreeMap<ItemId, f64>>,
}

statement!(Amended { from: NaiveDate, to: NaiveDate, rules: i16 } =
    "WITH asked AS (SELECT ", from: Date, " AS first, ", to: Date, " AS last, ",
    rules: SmallInt, " AS rules),
     accepted AS (
       SELECT r.store_id, r.business_date, min(r.revision) AS earliest, max(r.revision) AS latest
       FROM asked JOIN night_revisions r ON r.business_date BETWEEN first AND last
       LEFT JOIN night_settlements s USING (store_id, business_date, revision)
       WHERE r.state = 'accepted' OR s.outcome = 'accepted'
       GROUP BY r.store_id, r.business_date HAVING count(*) > 1)
     SELECT a.store_id, a.business_date, e.body AS first, l.body AS last,
       (SELECT coalesce(jsonb_object_agg(item_id, used_cost::float8 / used), '{}')
        FROM item_spans i
        WHERE i.store_id = a.store_id AND i.business_date = a.business_date
          AND i.rules = asked.rules AND used <> 0 AND used_cost IS NOT NULL
          AND variance_cost IS NOT NULL AND doubts = '[]') AS prices
     FROM asked, accepted a
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
    Amended::new(span.from().into(), span.to().into(), RULES).load(conn).await
}
