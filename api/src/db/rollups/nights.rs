//! Nights, and their dayparts and channels.

use chrono::{DateTime, NaiveDate, Utc};
use diesel::sql_types::{Date, Text, Timestamptz};
use diesel::{QueryResult, QueryableByName};
use diesel_async::{AsyncPgConnection, RunQueryDsl};
use parings_core::calendar::DateSpan;
use serde::Deserialize;

use super::{Grouping, totals};
use crate::db::statement::statement;

/// Nights.
#[derive(Debug, Deserialize)]
#[expect(missing_docs, reason = "the fields have the names of core's sums")]
pub struct NightRow {
    pub child: String,
    pub bucket: NaiveDate,
    pub sales: i64,
    pub sales_nights: u64,
    pub rated_wasted_cost: i64,
    pub rated_sales: i64,
    pub rated_nights: u64,
    /// Of the rated nights: a whole number of any length, as those below.
    pub waste_squares: String,
    pub sales_squares: String,
    pub products: String,
    pub units: u64,
    pub units_nights: u64,
    pub wasted_cost: i64,
    pub wasted_safety_cost: i64,
    pub nights: u64,
    pub ticket_nights: u64,
}

/// A daypart and channel of a store.
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
    /// Of each night the bins and how many tickets fell into each.
    pub times: Vec<Vec<(u16, u64)>>,
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
    /// Of those, with items whose count is doubtful: how many.
    pub items_left_out: Vec<(NaiveDate, u64)>,
    /// Dates with much less than the usual hours, counted or not.
    pub short: Vec<NaiveDate>,
}

/// Sales, units and the cost of waste.
///
/// # Errors
/// When the database cannot be reached.
pub async fn nights(conn: &mut AsyncPgConnection, of: &Grouping<'_>) -> QueryResult<Vec<NightRow>> {
    let with_sales = [("sales", "sales"), ("1", "sales_nights")];
    let rated = [("wasted", "rated_wasted_cost"), ("sales", "rated_sales"), ("1", "rated_nights")];
    let every = [
        ("wasted", "wasted_cost"),
        ("safety", "wasted_safety_cost"),
        ("1", "nights"),
        ("timed::int", "ticket_nights"),
    ];
    let full = "sales IS NOT NULL AND NOT short";
    let product = |term: &str, name: &str| {
        format!("coalesce(sum({term}) FILTER (WHERE {full}), 0)::text AS {name}")
    };
    // Of all items the night itself knows it.
    let wasted = |cost: &str| match of.item {
        None => cost.to_owned(),
        Some(_) => format!(
            "coalesce((
               SELECT {cost} FROM item_days d
               WHERE d.store_id = picked.store_id AND d.business_date = picked.business_date
                 AND d.business_date BETWEEN $2 AND $3 AND d.rules = $4 AND d.item_id = $5), 0)"
        ),
    };
    of.rows(
        conn,
        format!(
            "picked AS ({}),
             told AS (
               SELECT *, {} AS wasted, {} AS safety, EXISTS (
                 SELECT FROM daypart_tallies d
                 WHERE d.store_id = picked.store_id AND d.business_date = picked.business_date
                   AND d.business_date BETWEEN $2 AND $3 AND d.rules = $4 AND d.with_target > 0
               ) AS timed
               FROM picked)
             SELECT child, bucket, {}, {}, {}, {}, {}, {}, {} FROM told GROUP BY child, bucket",
            of.picked("night_tallies"),
            wasted("wasted_cost - wasted_safety_cost"),
            wasted("wasted_safety_cost"),
            totals(&with_sales, "sales IS NOT NULL"),
            totals(&rated, full),
            product("wasted * wasted::numeric", "waste_squares"),
            product("sales * sales::numeric", "sales_squares"),
            product("wasted * sales::numeric", "products"),
            totals(&[("units", "units"), ("1", "units_nights")], "units IS NOT NULL"),
            totals(&every, "true"),
        ),
    )
    .await
}

/// Orders, sales and ticket times by daypart and channel: a row for each store, so that none is too
/// long. Histograms come as they are; taken apart and sorted by the database they are what takes
/// longest of all.
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
            "picked AS ({})
             SELECT {key}, {sums}, {nights}, json_agg(times) AS times
             FROM picked GROUP BY {key}, store_id",
            of.picked("daypart_tallies"),
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
    let list = |what: &str, condition: &str, name: &str| {
        format!("coalesce(json_agg({what}) FILTER (WHERE {condition}), '[]') AS {name}")
    };
    let dates = |condition: &str, name: &str| list("business_date", condition, name);
    let items = "json_build_array(business_date, items_left_out)";
    of.rows(
        conn,
        format!(
            "picked AS ({} AND (counted OR short)) SELECT child, {}, {}, {}, {}, {} FROM picked
             GROUP BY child",
            of.picked("night_tallies"),
            dates("counted", "counted"),
            dates("counted AND partial", "partial"),
            dates("counted AND sales_source = 'none'", "left_out"),
            list(items, "counted AND items_left_out > 0", "items_left_out"),
            dates("short", "short"),
        ),
    )
    .await
}

/// A night with a count that waits.
#[derive(QueryableByName)]
struct WaitingRow {
    #[diesel(sql_type = Text)]
    store_id: String,
    #[diesel(sql_type = Date)]
    business_date: NaiveDate,
}

statement!(Waiting { from: NaiveDate, to: NaiveDate, at: DateTime<Utc> } =
    "WITH asked AS (SELECT ", from: Date, " AS first, ", to: Date, " AS last, ",
    at: Timestamptz, " AS at)
     SELECT DISTINCT r.store_id, r.business_date FROM asked, night_revisions r
     WHERE r.business_date BETWEEN first AND last AND r.state <> 'accepted' AND r.recorded_at <= at
       AND NOT EXISTS (
         SELECT FROM night_settlements s
         WHERE s.business_date = r.business_date AND s.store_id = r.store_id
           AND s.revision = r.revision AND s.recorded_at <= at)");

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
        Waiting::new(span.from().into(), span.to().into(), at).load(conn).await?;
    Ok(rows.into_iter().map(|row| (row.store_id, row.business_date)).collect())
}
