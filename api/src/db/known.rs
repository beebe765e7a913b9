//! What was known at a moment: pins as they were, and what was recorded since.

use chrono::{DateTime, NaiveDate, Utc};
use diesel::prelude::*;
use diesel::sql_types::{Array, BigInt, Bool, Date, Text, Timestamptz};
use diesel_async::{AsyncPgConnection, RunQueryDsl};
use parings_core::calendar::{BusinessDate, DateSpan};
use parings_core::ids::StoreId;
use parings_core::tally::RULES;

use super::schema::night_pins;
use super::statement::statement;
use super::tallies::{Key, code};

/// Adds a pin of a night: the moment whose reference data it is tallied with from `at` on.
///
/// # Errors
/// When the acting part is not the rules', or the database cannot be reached.
pub async fn add_pin(
    conn: &mut AsyncPgConnection,
    key: Key<'_>,
    at: DateTime<Utc>,
    reason: Option<&str>,
) -> QueryResult<()> {
    let there = key.standing;
    diesel::insert_into(night_pins::table)
        .values((
            night_pins::business_date.eq(NaiveDate::from(key.date)),
            night_pins::store_id.eq(there.store.as_str()),
            night_pins::rules.eq(RULES),
            night_pins::known_at.eq(key.known_at),
            night_pins::recorded_at.eq(at),
            night_pins::reason.eq(reason),
            night_pins::district_id.eq(there.district.as_str()),
            night_pins::region_id.eq(there.region.as_str()),
            night_pins::owner_id.eq(there.owner.as_str()),
        ))
        .execute(conn)
        .await
        .map(|_| ())
}

/// The pin that a night had at a moment; none when it was not tallied yet.
///
/// # Errors
/// When the database cannot be reached.
pub async fn pin(
    conn: &mut AsyncPgConnection,
    store: &StoreId,
    date: BusinessDate,
    at: DateTime<Utc>,
) -> QueryResult<Option<DateTime<Utc>>> {
    night_pins::table
        .filter(night_pins::store_id.eq(store.as_str()))
        .filter(night_pins::business_date.eq(NaiveDate::from(date)))
        .filter(night_pins::recorded_at.le(at))
        .order((night_pins::recorded_at.desc(), night_pins::known_at.desc()))
        .select(night_pins::known_at)
        .first(conn)
        .await
        .optional()
}

statement!(ActForRecall<'a> { stores: &'a [&'a str] => Array<Text> } = "known/act_for_recall.sql");

/// Lets the acting person, who may read figures of the stores, look at all their facts until the
/// part is taken anew. The transaction only reads from here on.
///
/// # Errors
/// When the acting person may not read figures.
pub async fn act_for_recall(conn: &mut AsyncPgConnection, stores: &[&str]) -> QueryResult<()> {
    ActForRecall { stores }.execute(conn).await.map(|_| ())
}

/// A night that something was recorded of.
#[derive(QueryableByName)]
struct TouchedRow {
    #[diesel(sql_type = Text)]
    store_id: String,
    #[diesel(sql_type = Date)]
    business_date: NaiveDate,
    #[diesel(sql_type = Bool)]
    tallied: bool,
}

/// A night that something was recorded of after a moment.
#[derive(Debug, Clone)]
pub struct Touched {
    /// The store that it was recorded in.
    pub store: StoreId,
    /// The business date that it is of.
    pub date: BusinessDate,
    /// Whether it had been tallied by then.
    pub tallied: bool,
}

statement!(NightsTouched {
    from: NaiveDate => Date,
    to: NaiveDate => Date,
    since: DateTime<Utc> => Timestamptz,
    limit: i64 => BigInt,
} = "known/nights_touched.sql");

/// The nights of a span that anything was recorded of after a moment, or whose pin was renewed, by
/// store and date; `limit` at most.
///
/// # Errors
/// When the database cannot be reached.
pub async fn touched(
    conn: &mut AsyncPgConnection,
    span: DateSpan,
    since: DateTime<Utc>,
    limit: i64,
) -> QueryResult<Vec<Touched>> {
    let (from, to) = (span.from().into(), span.to().into());
    let rows: Vec<TouchedRow> = NightsTouched { from, to, since, limit }.load(conn).await?;
    let touched = |row: TouchedRow| {
        let (store, date) = (code(&row.store_id)?, row.business_date.into());
        Ok(Touched { store, date, tallied: row.tallied })
    };
    rows.into_iter().map(touched).collect()
}
