//! Use between counts.

use chrono::NaiveDate;
use diesel::QueryResult;
use diesel_async::AsyncPgConnection;
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
}

/// The variance of all items against sales.
#[derive(Debug, Deserialize)]
#[expect(missing_docs, reason = "the fields have the names of core's sums")]
pub struct AgainstRow {
    pub child: String,
    pub bucket: NaiveDate,
    pub variance_cost: i64,
    pub sales: i64,
    pub nights: u64,
}

/// Usage: each span under the date of its closing count. The error of a count that closes one span
/// and opens the next of the same group cancels: counted in when it closes, taken out again when it
/// opens.
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
    let sums = [
        totals(&every, "true"),
        totals(&priced, "used_cost IS NOT NULL"),
        totals(&compared, "expected IS NOT NULL"),
        totals(&valued, "variance_cost IS NOT NULL"),
        totals(&against, "variance_cost IS NOT NULL AND sales_seen"),
    ]
    .join(", ");
    // Of a span some of whose nights the acting person may not see, the sales it states are not
    // what they see of them: it is not compared to sales.
    let (child, bucket, chosen) = (of.child(), of.bucket(), of.chosen());
    of.rows(
        conn,
        format!(
            "picked AS (
               SELECT *, {child} AS child, {bucket} AS bucket,
                 CASE WHEN expected IS NULL THEN 0 ELSE
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
                 PARTITION BY {child}, {bucket}, store_id, item_id, expected IS NULL
                 ORDER BY business_date))
             SELECT child, bucket, item_id, {sums}, sum(squares)::text AS squares
             FROM picked GROUP BY child, bucket, item_id"
        ),
    )
    .await
}

/// The variance of all items over the sales of the nights their spans cover, each night once. A
/// span some of whose nights the acting person may not see is in neither sum: what it states as
/// sales is not what they see of them.
///
/// # Errors
/// When the database cannot be reached.
pub async fn against_sales(
    conn: &mut AsyncPgConnection,
    of: &Grouping<'_>,
) -> QueryResult<Vec<AgainstRow>> {
    let picked = of.picked("item_spans");
    of.rows(
        conn,
        format!(
            "picked AS ({picked} AND variance_cost IS NOT NULL AND sales IS NOT NULL),
             joined AS (
               SELECT child, bucket, store_id, opened_on, business_date AS closed_on,
                 sales AS stated, sum(variance_cost) AS cost
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
               SELECT child, bucket, sum(cost)::bigint AS variance_cost FROM (
                 SELECT DISTINCT child, bucket, store_id, opened_on, closed_on, cost
                 FROM covered WHERE seen = stated) AS once
               GROUP BY child, bucket),
             takings AS (
               SELECT child, bucket, sum(sales)::bigint AS sales, count(*) AS nights FROM (
                 SELECT DISTINCT child, bucket, store_id, night, sales
                 FROM covered WHERE seen = stated AND sales IS NOT NULL) AS once
               GROUP BY child, bucket)
             SELECT * FROM costs JOIN takings USING (child, bucket)"
        ),
    )
    .await
}
