//! What happened to items on their dates.

use chrono::NaiveDate;
use diesel::QueryResult;
use diesel_async::AsyncPgConnection;
use parings_core::rollup::By;
use serde::Deserialize;

use super::{Grouping, totals};

/// What happened to an item on its dates.
#[derive(Debug, Deserialize)]
#[expect(missing_docs, reason = "the fields have the names of core's sums")]
pub struct DayRow {
    pub child: String,
    pub bucket: NaiveDate,
    pub item_id: String,
    pub amount: i64,
    pub cost: i64,
    pub safety: i64,
    pub safety_cost: i64,
    pub batch_out: i64,
    pub batch_expected_out: i64,
    pub batch_nights: u64,
    pub stock_out_minutes: u64,
    pub price_effect: i64,
}

/// Portions weighed on one date.
#[derive(Debug, Deserialize)]
#[expect(missing_docs, reason = "the fields have the names of core's samples")]
pub struct SampleRow {
    pub child: String,
    pub bucket: NaiveDate,
    pub item_id: String,
    pub count: u64,
    pub sum: i64,
    /// A whole number of any length.
    pub squares: String,
}

/// Recorded waste of one kind.
#[derive(Debug, Deserialize)]
#[expect(missing_docs, reason = "the fields have the names of core's key and sums")]
pub struct WasteRow {
    pub child: String,
    pub bucket: NaiveDate,
    pub reason: String,
    pub safety: bool,
    pub stage: Option<String>,
    pub daypart: Option<String>,
    pub amount: i64,
    pub cost: i64,
    pub lines: u64,
}

/// What happened to items, each night under its own date.
///
/// # Errors
/// When the database cannot be reached.
pub async fn days(conn: &mut AsyncPgConnection, of: &Grouping<'_>) -> QueryResult<Vec<DayRow>> {
    let sums = totals(
        &[
            ("wasted - wasted_safety", "amount"),
            ("wasted_cost - wasted_safety_cost", "cost"),
            ("wasted_safety", "safety"),
            ("wasted_safety_cost", "safety_cost"),
            ("batch_out", "batch_out"),
            ("batch_expected_out", "batch_expected_out"),
            ("(batch_expected_out <> 0)::int", "batch_nights"),
            ("stock_out_minutes", "stock_out_minutes"),
            ("price_effect", "price_effect"),
        ],
        "true",
    );
    of.rows(
        conn,
        format!(
            "picked AS ({}) SELECT child, bucket, item_id, {sums} FROM picked
             GROUP BY child, bucket, item_id",
            of.picked_items("item_days")
        ),
    )
    .await
}

/// Portions weighed, each night by itself whatever the buckets are.
///
/// # Errors
/// When the database cannot be reached.
pub async fn samples(
    conn: &mut AsyncPgConnection,
    of: &Grouping<'_>,
) -> QueryResult<Vec<SampleRow>> {
    let of = Grouping { by: By::Day, ..*of };
    let sums = totals(&[("samples", "count"), ("sample_sum", "sum")], "true");
    of.rows(
        conn,
        format!(
            "picked AS ({} AND samples > 0)
             SELECT child, bucket, item_id, {sums}, sum(sample_squares)::text AS squares
             FROM picked GROUP BY child, bucket, item_id",
            of.picked_items("item_days")
        ),
    )
    .await
}

/// Recorded waste by reason, stage and daypart.
///
/// # Errors
/// When the database cannot be reached.
pub async fn waste(conn: &mut AsyncPgConnection, of: &Grouping<'_>) -> QueryResult<Vec<WasteRow>> {
    let sums = totals(&[("amount", "amount"), ("cost", "cost"), ("1", "lines")], "true");
    let key = "child, bucket, reason, safety, stage, daypart";
    of.rows(
        conn,
        format!(
            "picked AS ({})
             SELECT {key}, {sums}
             FROM picked, jsonb_to_recordset(waste) AS line (reason text, safety boolean,
               stage text, daypart text, amount bigint, cost bigint)
             GROUP BY {key}",
            of.picked_items("item_days"),
        ),
    )
    .await
}
