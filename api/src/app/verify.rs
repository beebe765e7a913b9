//! Works every tally out again from its facts, with the reference data it was pinned to, and
//! compares it with what is stored, column by column and to the digit.
//!
//! Not compared are `restated_at`, which says when and not what, the district, region and owner of a
//! row, which were those known when it was written and decide who sees it, and the lot that is kept for
//! reviews, which depends on what other stores use.

use std::collections::{BTreeMap, BTreeSet};

use anyhow::Context;
use chrono::{DateTime, NaiveDate, Utc};
use diesel_async::{AsyncConnection, AsyncPgConnection};
use parings_core::calendar::BusinessDate;
use parings_core::ids::StoreId;
use serde_json::{Map, Value};

use crate::app::catalog::Lately;
use crate::app::spans::{Ending, Nights};
use crate::app::{review_nights, tallying};
use crate::db;
use crate::db::tallies::ItemSpanRow;
use crate::db::tallies::Key;
use crate::db::verify::Table;
use crate::error::AppError;

/// What was compared, and what differed.
#[derive(Debug, Default)]
pub struct Report {
    /// Stores that have facts or tallies.
    pub stores: usize,
    /// Their nights.
    pub nights: usize,
    /// Rows that were stored or should have been.
    pub rows: usize,
    /// Every difference.
    pub differences: Vec<Difference>,
}

/// A column that does not say what the facts add up to.
#[derive(Debug, Clone, PartialEq)]
pub struct Difference {
    /// The store.
    pub store: StoreId,
    /// The date.
    pub date: BusinessDate,
    /// The table.
    pub table: &'static str,
    /// The item, or the daypart and channel; empty for a night.
    pub of: String,
    /// The column; empty for a row that is missing or too many.
    pub column: String,
    /// What is stored; null for a row that is missing.
    pub stored: Value,
    /// What the facts add up to; null for a row that is too many.
    pub recomputed: Value,
}

impl std::fmt::Display for Difference {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let Self { store, date, table, of, column, stored, recomputed } = self;
        write!(f, "{store} {date} {table}")?;
        for part in [of, column].into_iter().filter(|part| !part.is_empty()) {
            write!(f, " {part}")?;
        }
        write!(f, ": stored {stored}, recomputed {recomputed}")
    }
}

/// How far the work is.
#[derive(Debug, Clone, Copy)]
pub struct Step<'a> {
    /// The store that is done.
    pub store: &'a StoreId,
    /// Stores done, this one included.
    pub done: usize,
    /// Stores in all.
    pub of: usize,
    /// Differences so far.
    pub differences: usize,
}

/// Compares everything, store by store, connected as the read-only role. Each store is read as it
/// was at one moment, so writes that go on meanwhile do no harm.
///
/// # Errors
/// When the database cannot be reached or holds what no rule wrote.
pub async fn run(read_url: &str, mut progress: impl FnMut(Step<'_>)) -> anyhow::Result<Report> {
    let connecting = AsyncPgConnection::establish(read_url).await;
    let mut conn = connecting.context("connect as the read-only role")?;
    let catalogs = Lately::default();
    let stores = db::verify::stores(&mut conn).await?;
    let of = stores.len();
    let mut report = Report { stores: of, ..Report::default() };
    for (n, store) in stores.iter().enumerate() {
        let store = StoreId::new(store)?;
        conn.build_transaction()
            .read_only()
            .repeatable_read()
            .run(async |conn| one_store(conn, &catalogs, &store, &mut report).await)
            .await
            .map_err(plain)
            .with_context(|| format!("store {store}"))?;
        let differences = report.differences.len();
        progress(Step { store: &store, done: n + 1, of, differences });
    }
    Ok(report)
}

/// Whoever runs this may see causes.
fn plain(error: AppError) -> anyhow::Error {
    match error {
        AppError::Internal(cause) => cause,
        other => other.into(),
    }
}

/// A row's place in its table: date, and item or daypart and channel.
type Place = (BusinessDate, String);
type Rows = BTreeMap<Place, Map<String, Value>>;

async fn one_store(
    conn: &mut AsyncPgConnection,
    catalogs: &Lately,
    store: &StoreId,
    report: &mut Report,
) -> Result<(), AppError> {
    let mut stored: BTreeMap<Table, Rows> = BTreeMap::new();
    for table in [
        Table::NightTallies,
        Table::ItemDays,
        Table::DaypartTallies,
        Table::ItemSpans,
        Table::ReviewNights,
    ] {
        stored.insert(table, placed(db::verify::rows(conn, table, store).await?)?);
    }
    let mut pins = BTreeMap::new();
    for ((date, _), row) in &stored[&Table::NightTallies] {
        pins.insert(*date, moment(&row["known_at"]).context("a night's known_at")?);
    }
    let mut dates: BTreeSet<BusinessDate> = pins.keys().copied().collect();
    dates.extend(db::verify::nights_with_facts(conn, store).await?);
    report.nights += dates.len();

    let mut made: BTreeMap<Table, Rows> = BTreeMap::new();
    let mut nights = Nights::default();
    for date in dates {
        let Some(known_at) = pins.get(&date).copied() else {
            // What it should be made with was in the row that is gone.
            made.entry(Table::NightTallies).or_default().insert((date, String::new()), Map::new());
            continue;
        };
        let catalog = catalogs.in_force(conn, date, known_at, Some(store)).await?;
        let (facts, revision) = db::nights::facts(conn, store, date, db::nights::ever()).await?;
        let day = match tallying::tally(&catalog, store, date, &facts).map_err(plain) {
            Ok(day) => day,
            Err(cause) => {
                report.differences.push(Difference {
                    store: store.clone(),
                    date,
                    table: Table::NightTallies.name(),
                    of: String::new(),
                    column: "facts".to_owned(),
                    stored: Value::Null,
                    recomputed: cause.to_string().into(),
                });
                continue;
            }
        };
        let standing = catalog.standing(store).map_err(anyhow::Error::new)?;
        let key = Key { standing: &standing, date, known_at };
        let rows = db::tallies::day_rows(key, revision, &day)?;
        for (table, rows) in [
            (Table::ItemDays, rows.items),
            (Table::DaypartTallies, rows.dayparts),
            (Table::NightTallies, rows.night),
        ] {
            let rows: Vec<Value> = serde_json::from_value(rows).map_err(anyhow::Error::new)?;
            made.entry(table).or_default().extend(placed(rows)?);
        }
        nights.put(date, &day);
    }
    let spans = spans(conn, catalogs, store, &nights, &pins).await?;
    made.insert(Table::ItemSpans, spans);
    // What is kept for reviews is held against the tallies that are stored; those are above.
    let kept: Vec<(String, NaiveDate)> = stored[&Table::ReviewNights]
        .keys()
        .map(|(date, _)| (store.to_string(), NaiveDate::from(*date)))
        .collect();
    let kept = review_nights::from_tallies(conn, &kept).await?;
    let kept: Result<Vec<Value>, _> = kept.iter().map(serde_json::to_value).collect();
    made.insert(Table::ReviewNights, placed(kept.map_err(anyhow::Error::new)?)?);
    for (table, stored) in stored {
        let made = made.remove(&table).unwrap_or_default();
        compare(store, table, &stored, &made, report);
    }
    Ok(())
}

/// The spans between the counts of every item.
async fn spans(
    conn: &mut AsyncPgConnection,
    catalogs: &Lately,
    store: &StoreId,
    nights: &Nights,
    pins: &BTreeMap<BusinessDate, DateTime<Utc>>,
) -> Result<Rows, AppError> {
    let counts = nights.counts();
    let mut ends: BTreeMap<BusinessDate, Vec<_>> = BTreeMap::new();
    for (item, counts) in &counts {
        for pair in counts.windows(2) {
            ends.entry(pair[1].0).or_default().push((*item, pair[0], pair[1]));
        }
    }
    let mut rows = Vec::new();
    for (date, spans) in ends {
        let Some(known_at) = pins.get(&date).copied() else { continue };
        let ending = Ending::read(catalogs, conn, store, date, known_at).await?;
        let standing = ending.standing();
        let standing = standing.ok_or_else(|| anyhow::anyhow!("{date}: the store was nowhere"))?;
        let key = Key { standing: &standing, date, known_at };
        for (item, from, to) in spans {
            let made = nights.span(&ending, item, from, to);
            let row = ItemSpanRow::new(key, item, &made, None)?;
            rows.push(serde_json::to_value(row).map_err(anyhow::Error::new)?);
        }
    }
    placed(rows)
}

fn placed(rows: Vec<Value>) -> Result<Rows, AppError> {
    let mut all = Rows::new();
    for row in rows {
        let Value::Object(row) = row else { continue };
        let date = row.get("business_date").cloned().unwrap_or_default();
        let date = serde_json::from_value(date).map_err(anyhow::Error::new)?;
        let part = |column| row.get(column).and_then(Value::as_str);
        let of = [part("item_id"), part("daypart_id"), part("channel_id")];
        let of = of.into_iter().flatten().collect::<Vec<_>>().join("/");
        all.insert((date, of), row);
    }
    Ok(all)
}

const NOT_COMPARED: [&str; 5] = ["restated_at", "district_id", "region_id", "owner_id", "lot"];

fn compare(store: &StoreId, table: Table, stored: &Rows, made: &Rows, report: &mut Report) {
    let places: BTreeSet<&Place> = stored.keys().chain(made.keys()).collect();
    report.rows += places.len();
    for place @ (date, of) in places {
        let mut differ = |column: &str, stored: Value, recomputed: Value| {
            report.differences.push(Difference {
                store: store.clone(),
                date: *date,
                table: table.name(),
                of: of.clone(),
                column: column.to_owned(),
                stored,
                recomputed,
            });
        };
        match (stored.get(place), made.get(place)) {
            (Some(was), Some(is)) => {
                let columns: BTreeSet<&String> = was.keys().chain(is.keys()).collect();
                for column in columns.into_iter().filter(|c| !NOT_COMPARED.contains(&c.as_str())) {
                    let value = |row: &Map<String, Value>| row.get(column).cloned();
                    let (was, is) = (value(was).unwrap_or_default(), value(is).unwrap_or_default());
                    if !same(&was, &is) {
                        differ(column, was, is);
                    }
                }
            }
            (was, is) => {
                let row = |row: Option<&Map<String, Value>>| {
                    row.map_or(Value::Null, |row| Value::Object(row.clone()))
                };
                differ("", row(was), row(is));
            }
        }
    }
}

/// The same value; moments may be written in two ways.
fn same(a: &Value, b: &Value) -> bool {
    a == b || moment(a).is_some_and(|at| moment(b) == Some(at))
}

fn moment(value: &Value) -> Option<DateTime<Utc>> {
    serde_json::from_value(value.clone()).ok()
}
