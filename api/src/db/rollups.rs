//! Tallies added up by the database: for each child and bucket of a scope and span. Policies hide
//! what the acting person may not see, as everywhere.

use chrono::NaiveDate;
use diesel::pg::Pg;
use diesel::prelude::*;
use diesel::query_builder::{AstPass, Query, QueryFragment, QueryId};
use diesel::sql_types::{Date, Jsonb, SmallInt, Text, Untyped};
use diesel_async::{AsyncPgConnection, RunQueryDsl};
use parings_core::calendar::{DateSpan, Periods};
use parings_core::rollup::{By, Level, Scope};
use parings_core::tally::RULES;
use serde::Deserialize;
use serde::de::DeserializeOwned;
use serde_json::Value;

/// Which tallies, and how they are grouped.
#[derive(Debug, Clone, Copy)]
pub struct Grouping<'a> {
    /// The scope.
    pub scope: &'a Scope,
    /// The dates.
    pub span: DateSpan,
    /// The buckets.
    pub by: By,
    /// The network's periods.
    pub periods: Periods,
    /// The children; without them, the scope as a whole.
    pub children: Option<Level>,
}

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

/// Waste under a reason.
#[derive(Debug, Deserialize)]
#[expect(missing_docs, reason = "the fields have the names of core's sums")]
pub struct ReasonRow {
    pub child: String,
    pub bucket: NaiveDate,
    pub reason: String,
    pub cost: i64,
    pub lines: u64,
    pub safety_cost: i64,
    pub safety_lines: u64,
}

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
        ],
        "true",
    );
    of.rows(
        conn,
        format!(
            "picked AS ({}) SELECT child, bucket, item_id, {sums} FROM picked
             GROUP BY child, bucket, item_id",
            of.picked("item_days")
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
            of.picked("item_days")
        ),
    )
    .await
}

/// Recorded waste by reason.
///
/// # Errors
/// When the database cannot be reached.
pub async fn reasons(
    conn: &mut AsyncPgConnection,
    of: &Grouping<'_>,
) -> QueryResult<Vec<ReasonRow>> {
    let cost = "(line ->> 'cost')::bigint";
    of.rows(
        conn,
        format!(
            "picked AS ({})
             SELECT child, bucket, line ->> 'reason' AS reason, {}, {}
             FROM picked, jsonb_array_elements(waste) AS line
             GROUP BY child, bucket, line ->> 'reason'",
            of.picked("item_days"),
            totals(&[(cost, "cost"), ("1", "lines")], "NOT (line ->> 'safety')::boolean"),
            totals(&[(cost, "safety_cost"), ("1", "safety_lines")], "(line ->> 'safety')::boolean"),
        ),
    )
    .await
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

/// Sums of columns or terms under names, of the rows that meet a condition.
fn totals(columns: &[(&str, &str)], condition: &str) -> String {
    let sum = |(term, name): &(&str, &str)| {
        format!("coalesce(sum({term}) FILTER (WHERE {condition}), 0)::bigint AS {name}")
    };
    columns.iter().map(sum).collect::<Vec<_>>().join(", ")
}

impl Grouping<'_> {
    fn child(&self) -> &'static str {
        match self.children {
            None => "''::text",
            Some(Level::Store) => "store_id",
            Some(Level::District) => "district_id",
            Some(Level::Region) => "region_id",
        }
    }

    fn bucket(&self) -> String {
        match self.by {
            By::Day => "business_date".to_owned(),
            By::Week => "greatest(date_trunc('week', business_date)::date, $2)".to_owned(),
            By::Period => {
                let buckets = self.by.buckets(self.span, &self.periods);
                let firsts = buckets.iter().map(|bucket| format!("'{}'", bucket.span.from()));
                let firsts = firsts.collect::<Vec<_>>().join(", ");
                format!(
                    "(SELECT max(first) FROM unnest(ARRAY[{firsts}]::date[]) AS first \
                     WHERE first <= business_date)"
                )
            }
            By::None => "$2".to_owned(),
        }
    }

    fn chosen(&self) -> String {
        let scope = match self.scope {
            Scope::Store(_) => "store_id = $1",
            Scope::District(_) => "district_id = $1",
            Scope::Region(_) => "region_id = $1",
            Scope::Owner(_) => "owner_id = $1",
            Scope::Network => "true",
        };
        format!("business_date BETWEEN $2 AND $3 AND rules = $4 AND {scope}")
    }

    fn picked(&self, table: &str) -> String {
        let (child, bucket, chosen) = (self.child(), self.bucket(), self.chosen());
        format!("SELECT *, {child} AS child, {bucket} AS bucket FROM {table} WHERE {chosen}")
    }

    fn code(&self) -> &str {
        match self.scope {
            Scope::Store(code) => code.as_str(),
            Scope::District(code) => code.as_str(),
            Scope::Region(code) => code.as_str(),
            Scope::Owner(code) => code.as_str(),
            Scope::Network => "",
        }
    }

    async fn rows<T: DeserializeOwned>(
        &self,
        conn: &mut AsyncPgConnection,
        parts: String,
    ) -> QueryResult<Vec<T>> {
        let (from, to) = (self.span.from().into(), self.span.to().into());
        let rows: Vec<JsonRow> = Added { parts, code: self.code(), from, to }.load(conn).await?;
        rows.into_iter()
            .map(|row| serde_json::from_value(row.row))
            .collect::<Result<_, _>>()
            .map_err(|error| diesel::result::Error::DeserializationError(error.into()))
    }
}

#[derive(QueryableByName)]
struct JsonRow {
    #[diesel(sql_type = Jsonb)]
    row: Value,
}

/// A statement that is prepared once for each text and kept, which `sql_query` is not. Its values
/// are stated once, in a part of their own; the text names them as often as it needs: `$1` the
/// scope's code, `$2` and `$3` the first and last date, `$4` the version of the rules.
struct Added<'a> {
    parts: String,
    code: &'a str,
    from: NaiveDate,
    to: NaiveDate,
}

impl QueryId for Added<'_> {
    type QueryId = ();
    const HAS_STATIC_QUERY_ID: bool = false;
}

impl Query for Added<'_> {
    type SqlType = Untyped;
}

impl QueryFragment<Pg> for Added<'_> {
    fn walk_ast<'b>(&'b self, mut out: AstPass<'_, 'b, Pg>) -> QueryResult<()> {
        out.push_sql("SELECT to_jsonb(answer) AS row FROM (WITH asked AS (SELECT ");
        out.push_bind_param::<Text, _>(self.code)?;
        out.push_sql(", ");
        out.push_bind_param::<Date, _>(&self.from)?;
        out.push_sql(", ");
        out.push_bind_param::<Date, _>(&self.to)?;
        out.push_sql(", ");
        out.push_bind_param::<SmallInt, _>(&RULES)?;
        out.push_sql("), ");
        out.push_sql(&self.parts);
        out.push_sql(") AS answer");
        Ok(())
    }
}
