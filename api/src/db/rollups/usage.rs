//! Use between counts.

use std::collections::BTreeMap;

use chrono::NaiveDate;
use diesel::QueryResult;
use diesel_async::AsyncPgConnection;
use parings_core::tally::Doubt;
use serde::Deserialize;

use super::{Grouping, totals};

/// Spans of an item.
#[derive(Debug, Deserialize)]
#[expect(missing_docs, reason = "the fields have the names of core's sums")]
pub struct SpanRow {
    pub child: String,
    pub bucket: NaiveDate,
    pub item_id: String,
    pub used: i64,
    pub made_into: i64,
    pub nights: u64,
    pub used_cost: i64,
    pub made_into_cost: i64,
    pub cost_nights: u64,
    pub compared_used: i64,
    pub compared_made_into: i64,
    pub compared_expected: i64,
    pub compared_wasted: i64,
    pub compared_yield_loss: i64,
    pub compared_nights: u64,
    /// What is left of count errors where neighbours cancel, in squared thousandths.
    pub squares: String,
    pub valued_used: i64,
    pub valued_used_cost: i64,
    pub valued_made_into_cost: i64,
    pub valued_expected_cost: i64,
    pub valued_variance_cost: i64,
    pub valued_wasted_cost: i64,
    pub valued_yield_loss_cost: i64,
    pub valued_nights: u64,
    pub against_variance_cost: i64,
    pub against_sales: i64,
    pub against_nights: u64,
    pub food_used_cost: i64,
    pub food_made_into_cost: i64,
    pub food_sales: i64,
    pub food_nights: u64,
    pub doubtful_spans: u64,
    pub doubtful_cost: i64,
    pub restated: u64,
    /// How many spans have each doubt, zero included.
    pub doubts: BTreeMap<Doubt, u64>,
}

/// The variance and the cost of use of all items against sales.
#[derive(Debug, Deserialize)]
#[expect(missing_docs, reason = "the fields have the names of core's sums")]
pub struct AgainstRow {
    pub child: String,
    pub bucket: NaiveDate,
    pub variance_cost: i64,
    pub sales: i64,
    pub nights: u64,
    pub food_cost: i64,
    pub food_sales: i64,
    pub food_nights: u64,
}

/// Usage: each span under the date of its closing count. The error of a count that closes one span
/// and opens the next of the same group cancels: counted in when it closes, taken out again when it
/// opens. A span in doubt is only told apart.
///
/// # Errors
/// When the database cannot be reached.
pub async fn spans(conn: &mut AsyncPgConnection, of: &Grouping<'_>) -> QueryResult<Vec<SpanRow>> {
    let every = [("used", "used"), ("made_into", "made_into"), ("nights", "nights")];
    let priced = [
        ("used_cost", "used_cost"),
        ("made_into_cost", "made_into_cost"),
        ("nights", "cost_nights"),
    ];
    let compared = [
        ("used", "compared_used"),
        ("made_into", "compared_made_into"),
        ("expected", "compared_expected"),
        ("wasted", "compared_wasted"),
        ("yield_loss", "compared_yield_loss"),
        ("nights", "compared_nights"),
    ];
    let valued = [
        ("used", "valued_used"),
        ("used_cost", "valued_used_cost"),
        ("made_into_cost", "valued_made_into_cost"),
        ("expected_cost", "valued_expected_cost"),
        ("variance_cost", "valued_variance_cost"),
        ("wasted_cost", "valued_wasted_cost"),
        ("yield_loss_cost", "valued_yield_loss_cost"),
        ("nights", "valued_nights"),
    ];
    let against = [
        ("variance_cost", "against_variance_cost"),
        ("sales", "against_sales"),
        ("nights", "against_nights"),
    ];
    let food = [
        ("used_cost", "food_used_cost"),
        ("made_into_cost", "food_made_into_cost"),
        ("sales", "food_sales"),
        ("nights", "food_nights"),
    ];
    let doubtful = [("1", "doubtful_spans"), ("used_cost", "doubtful_cost")];
    let sums = [
        totals(&every, "sound"),
        totals(&priced, "sound AND used_cost IS NOT NULL"),
        totals(&compared, "sound AND expected IS NOT NULL"),
        totals(&valued, "sound AND variance_cost IS NOT NULL"),
        totals(&against, "sound AND variance_cost IS NOT NULL AND sales_seen"),
        totals(&food, "sound AND used_cost IS NOT NULL AND sales_seen"),
        totals(&doubtful, "NOT sound"),
    ]
    .join(", ");
    let each = |doubt: &Doubt| {
        let word = doubt.word();
        format!("'{word}', count(*) FILTER (WHERE NOT sound AND doubts ? '{word}')")
    };
    let doubts = Doubt::ALL.iter().map(each).collect::<Vec<_>>().join(", ");
    // Of a span some of whose nights the acting person may not see, the sales it states are not
    // what they see of them: it is not compared to sales.
    let (child, bucket, chosen) = (of.child(), of.bucket(), of.chosen_items());
    of.rows(
        conn,
        format!(
            "picked AS (
               SELECT *, {child} AS child, {bucket} AS bucket, doubts = '[]' AS sound,
                 CASE WHEN expected IS NULL OR doubts <> '[]' THEN 0 ELSE
                   closing_sd::numeric * closing_sd + opening_sd::numeric * opening_sd *
                   CASE WHEN lag(business_date) OVER run = opened_on
                     AND lag(closing_sd) OVER run = opening_sd THEN -1 ELSE 1 END
                 END AS squares,
                 sales IS NOT NULL AND (business_date = opened_on + 1 OR sales = (
                   SELECT coalesce(sum(n.sales), 0) FROM night_tallies n
                   WHERE n.store_id = item_spans.store_id AND n.rules = $4
                     AND n.business_date > opened_on AND n.business_date <= item_spans.business_date
                     AND n.business_date <= $3
                 )) AS sales_seen
               FROM item_spans WHERE {chosen}
               WINDOW run AS (
                 PARTITION BY {child}, {bucket}, store_id, item_id, expected IS NULL OR doubts <> '[]'
                 ORDER BY business_date))
             SELECT child, bucket, item_id, {sums}, sum(squares)::text AS squares,
               count(*) FILTER (WHERE restated_at IS NOT NULL) AS restated,
               json_build_object({doubts}) AS doubts
             FROM picked GROUP BY child, bucket, item_id"
        ),
    )
    .await
}

/// The variance and the cost of use of all items over the sales of the nights their spans cover, each
/// night once. A
/// span some of whose nights the acting person may not see is in neither sum: what it states as
/// sales is not what they see of them.
///
/// # Errors
/// When the database cannot be reached.
pub async fn against_sales(
    conn: &mut AsyncPgConnection,
    of: &Grouping<'_>,
) -> QueryResult<Vec<AgainstRow>> {
    let picked = of.picked_items("item_spans");
    of.rows(
        conn,
        format!(
            "picked AS (
               {picked} AND used_cost IS NOT NULL AND sales IS NOT NULL AND doubts = '[]'),
             joined AS (
               SELECT child, bucket, store_id, opened_on, business_date AS closed_on,
                 sales AS stated, coalesce(sum(variance_cost), 0) AS variance,
                 count(variance_cost) > 0 AS compared, sum(used_cost - made_into_cost) AS food
               FROM picked
               GROUP BY child, bucket, store_id, opened_on, business_date, sales),
             covered AS (
               SELECT j.*, n.business_date AS night, n.sales,
                 sum(coalesce(n.sales, 0)) OVER (
                   PARTITION BY child, bucket, j.store_id, opened_on, closed_on) AS seen
               FROM joined j JOIN night_tallies n
                 ON n.store_id = j.store_id AND n.rules = $4
                 AND n.business_date > j.opened_on AND n.business_date <= j.closed_on
               WHERE n.business_date > (SELECT min(opened_on) FROM joined)
                 AND n.business_date <= $3),
             costs AS (
               SELECT child, bucket, sum(variance)::bigint AS variance_cost,
                 sum(food)::bigint AS food_cost
               FROM (
                 SELECT DISTINCT child, bucket, store_id, opened_on, closed_on, variance, food
                 FROM covered WHERE seen = stated) AS once
               GROUP BY child, bucket),
             takings AS (
               SELECT child, bucket,
                 coalesce(sum(sales) FILTER (WHERE compared), 0)::bigint AS sales,
                 count(*) FILTER (WHERE compared) AS nights,
                 sum(sales)::bigint AS food_sales, count(*) AS food_nights
               FROM (
                 SELECT child, bucket, store_id, night, sales, bool_or(compared) AS compared
                 FROM covered WHERE seen = stated AND sales IS NOT NULL
                 GROUP BY child, bucket, store_id, night, sales) AS once
               GROUP BY child, bucket)
             SELECT * FROM costs JOIN takings USING (child, bucket)"
        ),
    )
    .await
}
