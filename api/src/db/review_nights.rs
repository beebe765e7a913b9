//! What a review looks at: one row for every store's night of the whole network.

use chrono::NaiveDate;
use diesel::sql_types::{Array, BigInt, Bool, Date, Integer, Jsonb, Nullable, SmallInt, Text};
use diesel::{QueryResult, QueryableByName};
use diesel_async::{AsyncPgConnection, RunQueryDsl};
use parings_core::calendar::DateSpan;
use parings_core::tally::RULES;
use serde::Serialize;
use serde_json::Value;

use super::statement::statement;

/// A store's night. Amounts are money, in ten-thousandths of the currency's unit.
#[derive(Debug, Clone, PartialEq, Serialize, QueryableByName)]
pub struct NightRow {
    /// The store.
    #[diesel(sql_type = Text)]
    pub store_id: String,
    /// The date.
    #[diesel(sql_type = Date)]
    pub business_date: NaiveDate,
    /// The rules of its tallies.
    #[diesel(sql_type = SmallInt)]
    pub rules: i16,
    /// The mark of its tally: another one whenever anything of the night is tallied anew.
    #[diesel(sql_type = Text)]
    pub mark: String,
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
    /// What should have come out of batches, at what the item costs that night.
    #[diesel(sql_type = Nullable<BigInt>)]
    pub batch_due: Option<i64>,
    /// What came out.
    #[diesel(sql_type = Nullable<BigInt>)]
    pub batch_out: Option<i64>,
    /// Tickets with a target time.
    #[diesel(sql_type = Nullable<BigInt>)]
    pub tickets: Option<i64>,
    /// Of those, later than it.
    #[diesel(sql_type = Nullable<BigInt>)]
    pub late: Option<i64>,
    /// The median ticket time, in seconds.
    #[diesel(sql_type = Nullable<Integer>)]
    pub p50: Option<i32>,
    /// The 90th percentile.
    #[diesel(sql_type = Nullable<Integer>)]
    pub p90: Option<i32>,
    /// The supplier's lot of the item that most money is used of, where somebody wrote it down.
    #[diesel(sql_type = Nullable<Text>)]
    pub lot: Option<String>,
}

// One statement, so that a night that is tallied or kept meanwhile is told once.
statement!(OfSpan { from: NaiveDate, to: NaiveDate, rules: i16 } =
    "SELECT n.store_id, n.business_date, n.rules, coalesce(k.mark, '') AS mark,
       coalesce(k.counted, false) AS counted, coalesce(k.short, false) AS short, k.sales, k.units,
       coalesce(k.wasted, 0) AS wasted, coalesce(k.safety, 0) AS safety, k.expected, k.variance,
       k.nights, k.lines, k.same_lines, k.due, k.batch_due, k.batch_out, k.tickets, k.late, k.p50,
       k.p90, k.lot
     FROM (SELECT ", from: Date, " AS first, ", to: Date, " AS last, ", rules: SmallInt,
    " AS rules) AS asked
     JOIN night_tallies n ON n.business_date BETWEEN first AND last AND n.rules = asked.rules
     LEFT JOIN review_nights k ON k.business_date = n.business_date AND k.store_id = n.store_id
       AND k.rules = n.rules AND k.mark = n.xmin::text");

/// The nights of a span that have tallies. Where nothing is kept that still holds, the mark is empty and
/// nothing else is said.
///
/// # Errors
/// When the database cannot be reached.
pub async fn of_span(conn: &mut AsyncPgConnection, span: DateSpan) -> QueryResult<Vec<NightRow>> {
    OfSpan::new(span.from().into(), span.to().into(), RULES).load(conn).await
}

#[derive(QueryableByName)]
struct Place {
    #[diesel(sql_type = Text)]
    store_id: String,
    #[diesel(sql_type = Date)]
    business_date: NaiveDate,
}

statement!(NotKept { rules: i16 } =
    "SELECT n.store_id, n.business_date FROM night_tallies n
     LEFT JOIN review_nights k ON k.business_date = n.business_date AND k.store_id = n.store_id
       AND k.rules = n.rules AND k.mark = n.xmin::text
     WHERE n.rules = ", rules: SmallInt, " AND k.store_id IS NULL
     ORDER BY n.business_date DESC, n.store_id");

/// Nights, the latest first, of which nothing is kept that still holds.
///
/// # Errors
/// When the database cannot be reached.
pub async fn not_kept(conn: &mut AsyncPgConnection) -> QueryResult<Vec<(String, NaiveDate)>> {
    let places: Vec<Place> = NotKept::new(RULES).load(conn).await?;
    Ok(places.into_iter().map(|place| (place.store_id, place.business_date)).collect())
}

/// A night that was worked out, before anything is told of its ticket times.
#[derive(Debug, QueryableByName)]
pub struct WorkedRow {
    /// The night.
    #[diesel(embed)]
    pub night: NightRow,
    /// Ticket times of dayparts and channels: lists of bins and how many fell into each.
    #[diesel(sql_type = Nullable<Jsonb>)]
    pub times: Option<Value>,
}

// A span in doubt is in no sum that is compared. Each night is added up by itself: joined as groups, a
// plan that expects few of them goes through all for each.
statement!(WorkOut { stores: &'a [&'a str], dates: &'a [NaiveDate], rules: i16 } =
    "SELECT n.business_date, n.store_id, n.rules, n.xmin::text AS mark, n.counted, n.short, n.sales,
       n.units, n.wasted_cost - n.wasted_safety_cost AS wasted, n.wasted_safety_cost AS safety,
       expected, variance, spans.nights, lines, same_lines, due, batch_due, batch_out, tickets, late,
       NULL::integer AS p50, NULL::integer AS p90, NULL::text AS lot, times
     FROM unnest(", stores: Array<Text>, ", ", dates: Array<Date>, ") AS a (store_id, business_date)
     JOIN night_tallies n USING (store_id, business_date)
     LEFT JOIN LATERAL (
       SELECT sum(expected_cost) FILTER (WHERE compared)::bigint AS expected,
         sum(variance_cost) FILTER (WHERE compared)::bigint AS variance,
         round(sum(expected_cost * nights) FILTER (WHERE compared)
           / nullif(sum(expected_cost) FILTER (WHERE compared), 0))::bigint AS nights,
         count(*) FILTER (WHERE moved) AS lines,
         count(*) FILTER (WHERE moved AND closing = opening) AS same_lines
       FROM item_spans s,
         LATERAL (SELECT variance_cost IS NOT NULL AND doubts = '[]' AS compared,
           s.expected > 0 AND closing > 0 AS moved) AS told
       WHERE s.store_id = n.store_id AND s.business_date = n.business_date AND s.rules = n.rules
       HAVING count(*) > 0) AS spans ON true
     LEFT JOIN LATERAL (
       SELECT sum(expected_cost)::bigint AS due,
         sum(round(batch_expected_out::numeric * expected_cost / nullif(d.expected, 0)))
           FILTER (WHERE batch_expected_out > 0)::bigint AS batch_due,
         sum(round(d.batch_out::numeric * expected_cost / nullif(d.expected, 0)))
           FILTER (WHERE batch_expected_out > 0)::bigint AS batch_out
       FROM item_days d
       WHERE d.store_id = n.store_id AND d.business_date = n.business_date AND d.rules = n.rules
     ) AS items ON true
     LEFT JOIN LATERAL (
       SELECT sum(with_target)::bigint AS tickets, sum(d.late)::bigint AS late,
         jsonb_agg(times) AS times
       FROM daypart_tallies d
       WHERE d.store_id = n.store_id AND d.business_date = n.business_date AND d.rules = n.rules
         AND with_target > 0) AS served ON true
     WHERE n.rules = ", rules: SmallInt, "");

/// Works nights out from their tallies; nothing is said yet of ticket times and lots.
///
/// # Errors
/// When the database cannot be reached.
pub async fn work_out(
    conn: &mut AsyncPgConnection,
    (stores, dates): (&[&str], &[NaiveDate]),
) -> QueryResult<Vec<WorkedRow>> {
    WorkOut::new(stores, dates, RULES).load(conn).await
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

statement!(Lots { stores: &'a [&'a str], dates: &'a [NaiveDate] } =
    "SELECT store_id, business_date, lot FROM lots_in_review(", stores: Array<Text>, ", ",
    dates: Array<Date>, ")");

/// The lots of nights, of the item that most money is used of, where somebody wrote them down.
///
/// # Errors
/// When the database cannot be reached.
pub async fn lots(
    conn: &mut AsyncPgConnection,
    (stores, dates): (&[&str], &[NaiveDate]),
) -> QueryResult<Vec<LotRow>> {
    Lots::new(stores, dates).load(conn).await
}

statement!(Drop { stores: &'a [&'a str], dates: &'a [NaiveDate] } =
    "DELETE FROM review_nights k
     USING unnest(", stores: Array<Text>, ", ", dates: Array<Date>, ") AS a (store_id, business_date)
     WHERE k.store_id = a.store_id AND k.business_date = a.business_date");

statement!(Keep { rows: &'a Value } =
    "INSERT INTO review_nights
     SELECT * FROM jsonb_populate_recordset(NULL::review_nights, ", rows: Jsonb, ")");

/// Keeps nights in place of what was kept of them before.
///
/// # Errors
/// When the acting part may not.
pub async fn keep(conn: &mut AsyncPgConnection, rows: &[NightRow]) -> QueryResult<()> {
    let stores: Vec<&str> = rows.iter().map(|row| row.store_id.as_str()).collect();
    let dates: Vec<NaiveDate> = rows.iter().map(|row| row.business_date).collect();
    Drop::new(&stores, &dates).execute(conn).await?;
    let rows = serde_json::to_value(rows)
        .map_err(|e| diesel::result::Error::SerializationError(Box::new(e)))?;
    Keep::new(&rows).execute(conn).await.map(|_| ())
}
