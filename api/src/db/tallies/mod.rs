//! Tallies: written by the rules, read by everything that shows a figure.

mod rows;

use std::collections::{BTreeMap, BTreeSet};

use chrono::{DateTime, NaiveDate, Utc};
use diesel::pg::Pg;
use diesel::query_builder::{AstPass, Query, QueryFragment, QueryId};
use diesel::result::Error;
use diesel::sql_types::{
    Array, BigInt, Date, Jsonb, Nullable, SmallInt, Text, Timestamptz, Untyped,
};
use diesel::{QueryResult, QueryableByName};
use diesel_async::{AsyncPgConnection, RunQueryDsl};
use parings_core::access::Standing;
use parings_core::calendar::{BusinessDate, DateSpan};
use parings_core::ids::{ItemId, StoreId};
use parings_core::tally::{Day, ItemDay, NightTally, RULES};
use parings_core::usage::Samples;
use serde::de::DeserializeOwned;
use serde_json::Value;

use super::statement::statement;
pub(in crate::db) use rows::code;
use rows::{AddDayparts, AddItemDays, AddItemSpans, AddNight, KeyColumns};
pub use rows::{DaypartRow, ItemDayRow, ItemSpanRow, NightRow};

/// Whose tally it is.
#[derive(Debug, Clone, Copy)]
pub struct Key<'a> {
    /// Where the store stood on the date.
    pub standing: &'a Standing,
    /// The date.
    pub date: BusinessDate,
    /// The reference data it was made with: those known at this moment.
    pub known_at: DateTime<Utc>,
}

#[derive(QueryableByName)]
struct Document {
    #[diesel(sql_type = Jsonb)]
    row: Value,
}

fn read<T: DeserializeOwned>(documents: Vec<Document>) -> QueryResult<Vec<T>> {
    documents
        .into_iter()
        .map(|d| serde_json::from_value(d.row))
        .collect::<Result<_, _>>()
        .map_err(|e| Error::DeserializationError(e.into()))
}

fn write<T: serde::Serialize>(rows: &[T]) -> QueryResult<Value> {
    serde_json::to_value(rows).map_err(|e| Error::SerializationError(e.into()))
}

statement!(LockStore { store: &'a str } =
    "SELECT pg_advisory_xact_lock(hashtextextended(", store: Text, ", 0)) IS NULL");

/// Keeps a store's facts and tallies to this transaction until its end.
///
/// # Errors
/// When the lock does not come in time.
pub async fn lock(conn: &mut AsyncPgConnection, store: &StoreId) -> QueryResult<()> {
    LockStore::new(store.as_str()).execute(conn).await.map(|_| ())
}

#[derive(QueryableByName)]
struct Pin {
    #[diesel(sql_type = Nullable<Timestamptz>)]
    known_at: Option<DateTime<Utc>>,
}

statement!(FindPin { store: &'a str, date: NaiveDate, rules: i16 } =
    "SELECT (SELECT known_at FROM night_tallies WHERE store_id = ", store: Text,
    " AND business_date = ", date: Date, " AND rules = ", rules: SmallInt, ") AS known_at");

/// The moment whose reference data a night is tallied with, once it has been.
///
/// # Errors
/// When the database cannot be reached.
pub async fn pin(
    conn: &mut AsyncPgConnection,
    store: &StoreId,
    date: BusinessDate,
) -> QueryResult<Option<DateTime<Utc>>> {
    let found: Pin = FindPin::new(store.as_str(), date.into(), RULES).get_result(conn).await?;
    Ok(found.known_at)
}

#[derive(QueryableByName)]
struct NightPin {
    #[diesel(sql_type = Date)]
    business_date: NaiveDate,
    #[diesel(sql_type = Timestamptz)]
    known_at: DateTime<Utc>,
}

statement!(FindPins { store: &'a str, rules: i16 } =
    "SELECT business_date, known_at FROM night_tallies WHERE store_id = ", store: Text,
    " AND rules = ", rules: SmallInt, "");

/// The nights of a store that are tallied, with the moments whose reference data they are tallied
/// with.
///
/// # Errors
/// When the database cannot be reached.
pub async fn pins(
    conn: &mut AsyncPgConnection,
    store: &StoreId,
) -> QueryResult<Vec<(BusinessDate, DateTime<Utc>)>> {
    let found: Vec<NightPin> = FindPins::new(store.as_str(), RULES).load(conn).await?;
    Ok(found.into_iter().map(|pin| (pin.business_date.into(), pin.known_at)).collect())
}

statement!(PinForWriter { store: &'a str, date: NaiveDate, rules: i16 } =
    "SELECT night_pin(", store: Text, ", ", date: Date, ", ", rules: SmallInt, ") AS known_at");

/// The same, for who may write to the store but not see its tallies.
///
/// # Errors
/// When the acting person may not write to the store, or the database cannot be reached.
pub async fn pin_for_writer(
    conn: &mut AsyncPgConnection,
    store: &StoreId,
    date: BusinessDate,
) -> QueryResult<Option<DateTime<Utc>>> {
    let found: Pin = PinForWriter::new(store.as_str(), date.into(), RULES).get_result(conn).await?;
    Ok(found.known_at)
}

#[derive(QueryableByName)]
struct LastNight {
    #[diesel(sql_type = Nullable<Date>)]
    business_date: Option<NaiveDate>,
}

statement!(FindLastNight { rules: i16 } =
    "SELECT max(business_date) AS business_date FROM night_tallies WHERE rules = ",
    rules: SmallInt, "");

/// The last night of any store that has tallies.
///
/// # Errors
/// When the database cannot be reached.
pub async fn last_night(conn: &mut AsyncPgConnection) -> QueryResult<Option<BusinessDate>> {
    let found: LastNight = FindLastNight::new(RULES).get_result(conn).await?;
    Ok(found.business_date.map(Into::into))
}

#[derive(QueryableByName)]
struct NightOf {
    #[diesel(sql_type = Date)]
    business_date: NaiveDate,
    #[diesel(sql_type = Text)]
    store_id: String,
}

statement!(FindNightsOf { from: NaiveDate, to: NaiveDate, stores: Option<&'a [&'a str]>, rules: i16,
    limit: i64 } =
    "SELECT business_date, store_id FROM night_tallies WHERE business_date >= ", from: Date,
    " AND business_date <= ", to: Date, " AND coalesce(store_id = ANY (", stores: Nullable<Array<Text>>,
    "), true) AND rules = ", rules: SmallInt, " ORDER BY business_date, store_id LIMIT ",
    limit: BigInt, "");

/// The nights of a span that are tallied, in order of date and store: those of the stores that are
/// named, or of all; `limit` at most.
///
/// # Errors
/// When the database cannot be reached.
pub async fn nights_of(
    conn: &mut AsyncPgConnection,
    span: DateSpan,
    stores: Option<&[StoreId]>,
    limit: usize,
) -> QueryResult<Vec<(BusinessDate, StoreId)>> {
    let stores: Option<Vec<&str>> = stores.map(|all| all.iter().map(StoreId::as_str).collect());
    let limit = i64::try_from(limit).unwrap_or(i64::MAX);
    let (from, to) = (span.from().into(), span.to().into());
    let found: Vec<NightOf> =
        FindNightsOf::new(from, to, stores.as_deref(), RULES, limit).load(conn).await?;
    let night = |row: NightOf| Ok((row.business_date.into(), rows::code(&row.store_id)?));
    found.into_iter().map(night).collect()
}

statement!(ReadItemDays { store: &'a str, after: NaiveDate, until: NaiveDate, rules: i16 } =
    "SELECT to_jsonb(d) AS row FROM item_days d WHERE store_id = ", store: Text,
    " AND business_date > ", after: Date, " AND business_date <= ", until: Date,
    " AND rules = ", rules: SmallInt, " ORDER BY business_date, item_id");

/// What happened to a store's items after a date, up to and including another.
///
/// # Errors
/// When the database cannot be reached.
pub async fn item_days(
    conn: &mut AsyncPgConnection,
    store: &StoreId,
    after: BusinessDate,
    until: BusinessDate,
) -> QueryResult<Vec<(BusinessDate, ItemId, ItemDay)>> {
    let found =
        ReadItemDays::new(store.as_str(), after.into(), until.into(), RULES).load(conn).await?;
    read::<ItemDayRow>(found)?.into_iter().map(ItemDayRow::into_parts).collect()
}

statement!(ReadNights { store: &'a str, after: NaiveDate, until: NaiveDate, rules: i16 } =
    "SELECT to_jsonb(n) AS row FROM night_tallies n WHERE store_id = ", store: Text,
    " AND business_date > ", after: Date, " AND business_date <= ", until: Date,
    " AND rules = ", rules: SmallInt, " ORDER BY business_date");

/// A store's nights after a date, up to and including another.
///
/// # Errors
/// When the database cannot be reached.
pub async fn nights(
    conn: &mut AsyncPgConnection,
    store: &StoreId,
    after: BusinessDate,
    until: BusinessDate,
) -> QueryResult<Vec<(BusinessDate, NightTally)>> {
    let found =
        ReadNights::new(store.as_str(), after.into(), until.into(), RULES).load(conn).await?;
    Ok(read::<NightRow>(found)?.into_iter().map(|row| row.into_parts()).collect())
}

statement!(ReadSpansTouching { store: &'a str, first: NaiveDate, last: NaiveDate, rules: i16 } =
    "SELECT to_jsonb(s) AS row FROM item_spans s WHERE store_id = ", store: Text,
    " AND business_date >= ", first: Date, " AND opened_on <= ", last: Date,
    " AND rules = ", rules: SmallInt, " ORDER BY business_date, item_id");

/// The spans of a store that end on a date from `first` to `last`, hold one, or start from its count.
///
/// # Errors
/// When the database cannot be reached.
pub async fn spans_touching(
    conn: &mut AsyncPgConnection,
    store: &StoreId,
    (first, last): (BusinessDate, BusinessDate),
) -> QueryResult<Vec<ItemSpanRow>> {
    let (first, last) = (first.into(), last.into());
    read(ReadSpansTouching::new(store.as_str(), first, last, RULES).load(conn).await?)
}

statement!(ReadSpansOf { store: &'a str, date: NaiveDate, rules: i16 } =
    "SELECT to_jsonb(s) AS row FROM item_spans s WHERE store_id = ", store: Text,
    " AND business_date = ", date: Date, " AND rules = ", rules: SmallInt, " ORDER BY item_id");

/// The spans that end with a night's count.
///
/// # Errors
/// When the database cannot be reached.
pub async fn spans_of(
    conn: &mut AsyncPgConnection,
    store: &StoreId,
    date: BusinessDate,
) -> QueryResult<Vec<ItemSpanRow>> {
    read(ReadSpansOf::new(store.as_str(), date.into(), RULES).load(conn).await?)
}

#[derive(QueryableByName)]
struct SamplesRow {
    #[diesel(sql_type = Text)]
    item_id: String,
    #[diesel(sql_type = BigInt)]
    samples: i64,
    #[diesel(sql_type = BigInt)]
    sum: i64,
    /// A whole number of any length.
    #[diesel(sql_type = Text)]
    squares: String,
}

statement!(SumSamples { store: &'a str, after: NaiveDate, until: NaiveDate, rules: i16 } =
    "SELECT item_id, sum(samples)::bigint AS samples, sum(sample_sum)::bigint AS sum,
       sum(sample_squares)::text AS squares
     FROM item_days WHERE store_id = ", store: Text, " AND business_date > ", after: Date,
    " AND business_date <= ", until: Date, " AND rules = ", rules: SmallInt,
    " AND samples > 0 GROUP BY item_id");

/// The portions weighed of a store's items after a date, up to and including another.
///
/// # Errors
/// When the database cannot be reached.
pub async fn samples(
    conn: &mut AsyncPgConnection,
    store: &StoreId,
    after: BusinessDate,
    until: BusinessDate,
) -> QueryResult<Vec<(ItemId, Samples)>> {
    let found: Vec<SamplesRow> =
        SumSamples::new(store.as_str(), after.into(), until.into(), RULES).load(conn).await?;
    let pooled = |row: SamplesRow| {
        let squares = row
            .squares
            .parse()
            .map_err(|e: std::num::ParseIntError| Error::DeserializationError(Box::new(e)))?;
        let samples = Samples::from_parts(row.samples.unsigned_abs(), row.sum, squares);
        Ok((rows::code(&row.item_id)?, samples))
    };
    found.into_iter().map(pooled).collect()
}

/// The count of an item nearest to a date.
#[derive(Debug, Clone, PartialEq, Eq, QueryableByName)]
pub struct CountRow {
    /// The item.
    #[diesel(sql_type = Text)]
    pub item_id: String,
    /// Its date.
    #[diesel(sql_type = Date)]
    pub business_date: NaiveDate,
    /// What stood there, in thousandths.
    #[diesel(sql_type = BigInt)]
    pub closing: i64,
    /// How far that may be off, in thousandths.
    #[diesel(sql_type = BigInt)]
    pub closing_sd: i64,
}

statement!(CountBefore { items: &'a [&'a str], store: &'a str, date: NaiveDate, rules: i16 } =
    "SELECT i.item_id, c.business_date, c.closing, c.closing_sd FROM unnest(", items: Array<Text>,
    ") AS i (item_id), LATERAL (SELECT business_date, closing, closing_sd FROM item_days d
     WHERE d.item_id = i.item_id AND closing IS NOT NULL AND store_id = ", store: Text,
    " AND business_date < ", date: Date, " AND rules = ", rules: SmallInt,
    " ORDER BY business_date DESC LIMIT 1) c");

statement!(CountAfter { items: &'a [&'a str], store: &'a str, date: NaiveDate, rules: i16 } =
    "SELECT i.item_id, c.business_date, c.closing, c.closing_sd FROM unnest(", items: Array<Text>,
    ") AS i (item_id), LATERAL (SELECT business_date, closing, closing_sd FROM item_days d
     WHERE d.item_id = i.item_id AND closing IS NOT NULL AND store_id = ", store: Text,
    " AND business_date > ", date: Date, " AND rules = ", rules: SmallInt,
    " ORDER BY business_date LIMIT 1) c");

/// The last count of each item before a date.
///
/// # Errors
/// When the database cannot be reached.
pub async fn counts_before(
    conn: &mut AsyncPgConnection,
    store: &StoreId,
    date: BusinessDate,
    items: &[&str],
) -> QueryResult<Vec<CountRow>> {
    CountBefore::new(items, store.as_str(), date.into(), RULES).load(conn).await
}

/// The first count of each item after a date.
///
/// # Errors
/// When the database cannot be reached.
pub async fn counts_after(
    conn: &mut AsyncPgConnection,
    store: &StoreId,
    date: BusinessDate,
    items: &[&str],
) -> QueryResult<Vec<CountRow>> {
    CountAfter::new(items, store.as_str(), date.into(), RULES).load(conn).await
}

statement!(DropDay { store: &'a str, date: NaiveDate, rules: i16, store2: &'a str, date2: NaiveDate,
    rules2: i16, store3: &'a str, date3: NaiveDate, rules3: i16 } =
    "WITH items AS (DELETE FROM item_days WHERE store_id = ", store: Text, " AND business_date = ",
    date: Date, " AND rules = ", rules: SmallInt,
    "), parts AS (DELETE FROM daypart_tallies WHERE store_id = ", store2: Text,
    " AND business_date = ", date2: Date, " AND rules = ", rules2: SmallInt,
    ") DELETE FROM night_tallies WHERE store_id = ", store3: Text, " AND business_date = ",
    date3: Date, " AND rules = ", rules3: SmallInt, "");

/// A day's rows, added by one statement.
struct AddDay {
    items: AddItemDays,
    dayparts: AddDayparts,
    night: AddNight,
}

impl QueryId for AddDay {
    type QueryId = AddDay;
    const HAS_STATIC_QUERY_ID: bool = true;
}

impl Query for AddDay {
    type SqlType = Untyped;
}

impl QueryFragment<Pg> for AddDay {
    fn walk_ast<'b>(&'b self, mut out: AstPass<'_, 'b, Pg>) -> QueryResult<()> {
        out.push_sql("WITH items AS (");
        self.items.walk_ast(out.reborrow())?;
        out.push_sql("), parts AS (");
        self.dayparts.walk_ast(out.reborrow())?;
        out.push_sql(") ");
        self.night.walk_ast(out)
    }
}

/// Takes away a day's tallies, spans apart.
///
/// # Errors
/// When the acting part is not the rules', or the database cannot be reached.
pub async fn drop_day(
    conn: &mut AsyncPgConnection,
    store: &StoreId,
    date: BusinessDate,
) -> QueryResult<()> {
    let (store, date) = (store.as_str(), NaiveDate::from(date));
    let drop = DropDay::new(store, date, RULES, store, date, RULES, store, date, RULES);
    drop.execute(conn).await.map(|_| ())
}

/// Adds a day's tallies where there are none. `revision` is that of the count.
///
/// # Errors
/// When the acting part is not the rules', or the database cannot be reached.
pub async fn add_day(
    conn: &mut AsyncPgConnection,
    key: Key<'_>,
    revision: Option<i32>,
    day: &Day,
) -> QueryResult<()> {
    let rows = Rows::of(key, revision, day)?;
    let key = KeyColumns::new(key);
    let add = AddDay {
        items: AddItemDays::new(key.clone(), rows.items.iter())?,
        dayparts: AddDayparts::new(key.clone(), rows.dayparts.iter())?,
        night: AddNight::new(key, std::iter::once(&rows.night))?,
    };
    add.execute(conn).await.map(|_| ())
}

/// The rows of a day, each table's a list of documents whose members are the columns.
#[derive(Debug, Clone, PartialEq)]
pub struct DayRows {
    /// Of `item_days`.
    pub items: Value,
    /// Of `daypart_tallies`.
    pub dayparts: Value,
    /// Of `night_tallies`: one.
    pub night: Value,
}

/// A day as rows.
///
/// # Errors
/// When a number is too large for its column.
pub fn day_rows(key: Key<'_>, revision: Option<i32>, day: &Day) -> QueryResult<DayRows> {
    let Rows { items, dayparts, night } = Rows::of(key, revision, day)?;
    Ok(DayRows { items: write(&items)?, dayparts: write(&dayparts)?, night: write(&[night])? })
}

struct Rows {
    items: Vec<ItemDayRow>,
    dayparts: Vec<DaypartRow>,
    night: NightRow,
}

impl Rows {
    fn of(key: Key<'_>, revision: Option<i32>, day: &Day) -> QueryResult<Self> {
        let items = day.items.iter().map(|(id, d)| ItemDayRow::new(key, id, d));
        let dayparts = day.dayparts.iter().map(|(id, d)| DaypartRow::new(key, id, d));
        Ok(Self {
            items: items.collect::<Result<_, _>>()?,
            dayparts: dayparts.collect::<Result<_, _>>()?,
            night: NightRow::new(key, revision, &day.night),
        })
    }
}

statement!(DropSpansTouching { store: &'a str, first: NaiveDate, last: NaiveDate, rules: i16 } =
    "DELETE FROM item_spans WHERE store_id = ", store: Text, " AND business_date >= ", first: Date,
    " AND opened_on <= ", last: Date, " AND rules = ", rules: SmallInt, "");

/// Takes away what [`spans_touching`] reads.
///
/// # Errors
/// When the acting part is not the rules', or the database cannot be reached.
pub async fn drop_spans_touching(
    conn: &mut AsyncPgConnection,
    store: &StoreId,
    (first, last): (BusinessDate, BusinessDate),
) -> QueryResult<()> {
    let (first, last) = (first.into(), last.into());
    DropSpansTouching::new(store.as_str(), first, last, RULES).execute(conn).await.map(|_| ())
}

/// Adds spans.
///
/// # Errors
/// When the acting part is not the rules', or the database cannot be reached.
pub async fn add_spans(conn: &mut AsyncPgConnection, rows: &[ItemSpanRow]) -> QueryResult<()> {
    let mut ends: BTreeMap<BusinessDate, Vec<&ItemSpanRow>> = BTreeMap::new();
    for row in rows {
        ends.entry(row.date()).or_default().push(row);
    }
    for rows in ends.into_values() {
        let key = rows[0].key().clone();
        AddItemSpans::new(key, rows.into_iter())?.execute(conn).await?;
    }
    Ok(())
}

statement!(PutAnew { store: &'a str, dates: &'a [NaiveDate], rules: i16 } =
    "WITH gone AS (DELETE FROM night_tallies WHERE store_id = ", store: Text,
    " AND business_date = ANY (", dates: Array<Date>, ") AND rules = ", rules: SmallInt,
    " RETURNING *) INSERT INTO night_tallies SELECT * FROM gone");

/// Puts the tallies of nights down anew as they are, because spans that end there were made anew: whoever
/// keeps something of a night knows by its row whether it still holds.
///
/// # Errors
/// When the acting part is not the rules', or the database cannot be reached.
pub async fn put_anew(
    conn: &mut AsyncPgConnection,
    store: &StoreId,
    dates: &BTreeSet<BusinessDate>,
) -> QueryResult<()> {
    if dates.is_empty() {
        return Ok(());
    }
    let dates: Vec<NaiveDate> = dates.iter().map(|date| (*date).into()).collect();
    PutAnew::new(store.as_str(), &dates, RULES).execute(conn).await.map(|_| ())
}
