//! Nights, and their dayparts and channels.

use chrono::NaiveDate;
use diesel::QueryResult;
use diesel_async::AsyncPgConnection;
use serde::Deserialize;

use super::{Grouping, totals};

/// Nights.
#[derive(Debug, Deserialize)]
#[expect(missing_docs, reason = "the fields have the names of core's sums")]
pub struct NightRow {
    pub child: String,
    pub bucket: NaiveDate,
    pub sales: i64,
    pub sales_nights: u64,
    pub wasted_cost_with_sales: i64,
    pub units: u64,
    pub units_nights: u64,
    pub wasted_cost: i64,
    pub wasted_safety_cost: i64,
    pub nights: u64,
    pub ticket_nights: u64,
}

/// A daypart and channel.
#[derive(Debug, Deserialize)]
#[expect(missing_docs, reason = "the fields have the names of core's tally")]
pub struct DaypartRow {
    pub child: String,
    pub bucket: NaiveDate,
    pub daypart_id: String,
    pub channel_id: String,
    pub units: u64,
    pub sales: i64,
    pub orders: u64,
    pub with_target: u64,
    pub late: u64,
    pub never_closed: u64,
    pub lump_closed: u64,
    pub stock_out_minutes: u64,
    pub ticket_nights: u64,
    /// Bins and how many tickets fell into each, in order.
    pub times: Vec<(u16, u64)>,
}

/// On which dates a child counted.
#[derive(Debug, Deserialize)]
pub struct CountedRow {
    /// The child, which is the store when grouped by stores.
    pub child: String,
    /// Dates with a count.
    pub counted: Vec<NaiveDate>,
    /// Of those, with lines unanswered.
    pub partial: Vec<NaiveDate>,
    /// Of those, without known sales.
    pub left_out: Vec<NaiveDate>,
}

/// Sales, units and the cost of waste.
///
/// # Errors
/// When the database cannot be reached.
pub async fn nights(conn: &mut AsyncPgConnection, of: &Grouping<'_>) -> QueryResult<Vec<NightRow>> {
    let wasted = "wasted_cost - wasted_safety_cost";
    let with_sales =
        [("sales", "sales"), ("1", "sales_nights"), (wasted, "wasted_cost_with_sales")];
    let every = [
        (wasted, "wasted_cost"),
        ("wasted_safety_cost", "wasted_safety_cost"),
        ("1", "nights"),
        ("timed::int", "ticket_nights"),
    ];
    of.rows(
        conn,
        format!(
            "picked AS ({}),
             told AS (
               SELECT *, EXISTS (
                 SELECT FROM daypart_tallies d
                 WHERE d.store_id = picked.store_id AND d.business_date = picked.business_date
                   AND d.business_date BETWEEN $2 AND $3 AND d.rules = $4 AND d.with_target > 0
               ) AS timed
               FROM picked)
             SELECT child, bucket, {}, {}, {} FROM told GROUP BY child, bucket",
            of.picked("night_tallies"),
            totals(&with_sales, "sales IS NOT NULL"),
            totals(&[("units", "units"), ("1", "units_nights")], "units IS NOT NULL"),
            totals(&every, "true"),
        ),
    )
    .await
}

/// Orders, sales and ticket times by daypart and channel, histograms merged.
///
/// # Errors
/// When the database cannot be reached.
pub async fn dayparts(
    conn: &mut AsyncPgConnection,
    of: &Grouping<'_>,
) -> QueryResult<Vec<DaypartRow>> {
    let names = [
        "units",
        "sales",
        "orders",
        "with_target",
        "late",
        "never_closed",
        "lump_closed",
        "stock_out_minutes",
    ];
    let sums = totals(&names.map(|name| (name, name)), "true");
    let nights = totals(&[("1", "ticket_nights")], "with_target > 0");
    let key = "child, bucket, daypart_id, channel_id";
    of.rows(
        conn,
        format!(
            "picked AS ({}),
             sums AS (SELECT {key}, {sums}, {nights} FROM picked GROUP BY {key}),
             bins AS (
               SELECT {key}, (pair ->> 0)::int AS bin, sum((pair ->> 1)::bigint)::bigint AS tickets
               FROM picked, jsonb_array_elements(times) AS pair GROUP BY {key}, bin),
             merged AS (
               SELECT {key}, jsonb_agg(jsonb_build_array(bin, tickets) ORDER BY bin) AS times
               FROM bins GROUP BY {key})
             SELECT {key}, {}, ticket_nights, coalesce(times, '[]') AS times
             FROM sums LEFT JOIN merged USING ({key})",
            of.picked("daypart_tallies"),
            names.join(", "),
        ),
    )
    .await
}

/// On which dates there was a count, whatever the buckets are.
///
/// # Errors
/// When the database cannot be reached.
pub async fn counted(
    conn: &mut AsyncPgConnection,
    of: &Grouping<'_>,
) -> QueryResult<Vec<CountedRow>> {
    let dates = |condition: &str, name: &str| {
        format!("coalesce(jsonb_agg(business_date) FILTER (WHERE {condition}), '[]') AS {name}")
    };
    of.rows(
        conn,
        format!(
            "picked AS ({} AND counted) SELECT child, {}, {}, {} FROM picked
             GROUP BY child",
            of.picked("night_tallies"),
            dates("true", "counted"),
            dates("partial", "partial"),
            dates("sales_source = 'none'", "left_out"),
        ),
    )
    .await
}
