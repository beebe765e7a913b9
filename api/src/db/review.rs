//! What a review looks at: one row for every store's night of the whole network.

use std::collections::BTreeMap;

use chrono::NaiveDate;
use diesel::sql_types::{BigInt, Bool, Date, Double, Jsonb, Nullable, SmallInt, Text};
use diesel::{QueryResult, QueryableByName};
use diesel_async::{AsyncPgConnection, RunQueryDsl};
use parings_core::calendar::DateSpan;
use parings_core::ids::{DistrictId, ItemId};
use parings_core::night::Count;
use parings_core::tally::RULES;
use serde_json::Value;

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

/// A store's night. Amounts are money, in ten-thousandths of the currency's unit.
#[derive(Debug, QueryableByName)]
pub struct NightRow {
    /// The store.
    #[diesel(sql_type = Text)]
    pub store_id: String,
    /// The date.
    #[diesel(sql_type = Date)]
    pub business_date: NaiveDate,
    /// Whether it was counted.
    #[diesel(sql_type = Bool)]
    pub counted: bool,
    /// Whether it traded much less than usual.
    #[diesel(sql_type = Bool)]
    pub short: bool,
    /// Net sales, where known.
    #[diesel(sql_type = Nullable<BigInt>)]
    pub sales: Option<i64>,
    /// Units sold, where known.
    #[diesel(sql_type = Nullable<BigInt>)]
    pub units: Option<i64>,
    /// Recorded waste, safety discards apart.
    #[diesel(sql_type = BigInt)]
    pub wasted: i64,
    /// Safety discards.
    #[diesel(sql_type = BigInt)]
    pub safety: i64,
    /// What sales should have used, over the spans that end here, have a price and no doubt.
    #[diesel(sql_type = Nullable<BigInt>)]
    pub expected: Option<i64>,
    /// Used beyond it.
    #[diesel(sql_type = Nullable<BigInt>)]
    pub variance: Option<i64>,
    /// How many nights those spans cover, as what money is used of does: items that are counted once a
    /// week do not make a week of the night.
    #[diesel(sql_type = Nullable<BigInt>)]
    pub nights: Option<i64>,
    /// Lines counted of what was sold since the count before and is still there.
    #[diesel(sql_type = Nullable<BigInt>)]
    pub lines: Option<i64>,
    /// Of those, lines that repeat the count before.
    #[diesel(sql_type = Nullable<BigInt>)]
    pub same_lines: Option<i64>,
    /// What sales of the night should have used of all items.
    #[diesel(sql_type = Nullable<BigInt>)]
    pub due: Option<i64>,
    /// What should have come out of batches, at what the item usually costs.
    #[diesel(sql_type = Nullable<Double>)]
    pub batch_due: Option<f64>,
    /// What came out.
    #[diesel(sql_type = Nullable<Double>)]
    pub batch_out: Option<f64>,
    /// Tickets with a target time.
    #[diesel(sql_type = Nullable<BigInt>)]
    pub tickets: Option<i64>,
    /// Of those, later than it.
    #[diesel(sql_type = Nullable<BigInt>)]
    pub late: Option<i64>,
    /// Ticket times of dayparts and channels: lists of bins and how many fell into each.
    #[diesel(sql_type = Nullable<Jsonb>)]
    pub times: Option<Value>,
}

// A span in doubt is in no sum that is compared. Items of batches are weighed by what a unit of each
// costs over all of these nights, so that the mix of a night does not move a ratio.
statement!(Nights { from: NaiveDate, to: NaiveDate, rules: i16 } =
    "WITH asked AS MATERIALIZED (SELECT ", from: Date, " AS first, ", to: Date, " AS last, ",
    rules: SmallInt, " AS rules),
     spans AS (
       SELECT store_id, business_date,
         sum(expected_cost) FILTER (WHERE compared)::bigint AS expected,
         sum(variance_cost) FILTER (WHERE compared)::bigint AS variance,
         round(sum(expected_cost * nights) FILTER (WHERE compared)
           / nullif(sum(expected_cost) FILTER (WHERE compared), 0))::bigint AS nights,
         count(*) FILTER (WHERE moved) AS lines,
         count(*) FILTER (WHERE moved AND closing = opening) AS same_lines
       FROM item_spans, asked,
         LATERAL (SELECT variance_cost IS NOT NULL AND doubts = '[]' AS compared,
           expected > 0 AND closing > 0 AS moved) AS told
       WHERE business_date BETWEEN first AND last AND item_spans.rules = asked.rules
       GROUP BY store_id, business_date),
     prices AS (
       SELECT item_id, sum(used_cost)::float8 / nullif(sum(used), 0) AS price
       FROM item_spans, asked
       WHERE business_date BETWEEN first AND last AND item_spans.rules = asked.rules
         AND used_cost IS NOT NULL AND doubts = '[]'
       GROUP BY item_id),
     batches AS (
       SELECT store_id, business_date, sum(expected_cost)::bigint AS due,
         sum(batch_expected_out * price) FILTER (WHERE batch_expected_out > 0) AS batch_due,
         sum(batch_out * price) FILTER (WHERE batch_expected_out > 0) AS batch_out
       FROM asked, item_days LEFT JOIN prices USING (item_id)
       WHERE business_date BETWEEN first AND last AND item_days.rules = asked.rules
       GROUP BY store_id, business_date),
     tickets AS (
       SELECT store_id, business_date, sum(with_target)::bigint AS tickets,
         sum(late)::bigint AS late, jsonb_agg(times) AS times
       FROM daypart_tallies, asked
       WHERE business_date BETWEEN first AND last AND daypart_tallies.rules = asked.rules
         AND with_target > 0
       GROUP BY store_id, business_date)
     SELECT n.store_id, n.business_date, n.counted, n.short, n.sales, n.units,
       n.wasted_cost - n.wasted_safety_cost AS wasted, n.wasted_safety_cost AS safety,
       expected, variance, nights, lines, same_lines, due, batch_due, batch_out, tickets, late, times
     FROM asked JOIN night_tallies n
       ON n.business_date BETWEEN first AND last AND n.rules = asked.rules
     LEFT JOIN spans USING (store_id, business_date)
     LEFT JOIN batches USING (store_id, business_date)
     LEFT JOIN tickets USING (store_id, business_date)
     ORDER BY n.store_id, n.business_date");

/// Every store's nights of a span that have tallies, in order of store and date.
///
/// # Errors
/// When the database cannot be reached.
pub async fn nights(conn: &mut AsyncPgConnection, span: DateSpan) -> QueryResult<Vec<NightRow>> {
    Nights::new(span.from().into(), span.to().into(), RULES).load(conn).await
}

/// Which lot a store cooked from on a date.
#[derive(Debug, QueryableByName)]
pub struct LotRow {
    /// The store.
    #[diesel(sql_type = Text)]
    pub store_id: String,
    /// The date.
    #[diesel(sql_type = Date)]
    pub business_date: NaiveDate,
    /// The supplier's lot.
    #[diesel(sql_type = Text)]
    pub lot: String,
}

statement!(Lots { from: NaiveDate, to: NaiveDate } =
    "SELECT store_id, business_date, lot FROM lots_in_review(", from: Date, ", ", to: Date, ")");

/// The lots of the item that most money is used of, where somebody wrote them down: one a store and
/// date, in order of store and date.
///
/// # Errors
/// When the database cannot be reached.
pub async fn lots(conn: &mut AsyncPgConnection, span: DateSpan) -> QueryResult<Vec<LotRow>> {
    Lots::new(span.from().into(), span.to().into()).load(conn).await
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
