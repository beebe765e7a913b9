//! What was known at a moment: pins as they were, and what was recorded since.

use chrono::{DateTime, NaiveDate, Utc};
use diesel::sql_types::{Array, BigInt, Bool, Date, Nullable, SmallInt, Text, Timestamptz};
use diesel::{QueryResult, QueryableByName};
use diesel_async::{AsyncPgConnection, RunQueryDsl};
use parings_core::calendar::{BusinessDate, DateSpan};
use parings_core::ids::StoreId;
use parings_core::tally::RULES;

use super::statement::statement;
use super::tallies::{Key, code};

statement!(AddPin { date: NaiveDate, store: &'a str, rules: i16, known_at: DateTime<Utc>,
    at: DateTime<Utc>, reason: Option<&'a str>, district: &'a str, region: &'a str,
    owner: &'a str } =
    "INSERT INTO night_pins (business_date, store_id, rules, known_at, recorded_at, reason,
     district_id, region_id, owner_id) VALUES (", date: Date, ", ", store: Text, ", ",
    rules: SmallInt, ", ", known_at: Timestamptz, ", ", at: Timestamptz, ", ",
    reason: Nullable<Text>, ", ", district: Text, ", ", region: Text, ", ", owner: Text, ")");

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
    let (date, there) = (key.date.into(), key.standing);
    let [store, district] = [there.store.as_str(), there.district.as_str()];
    let [region, owner] = [there.region.as_str(), there.owner.as_str()];
    AddPin::new(date, store, RULES, key.known_at, at, reason, district, region, owner)
        .execute(conn)
        .await
        .map(|_| ())
}

#[derive(QueryableByName)]
struct Pin {
    #[diesel(sql_type = Timestamptz)]
    known_at: DateTime<Utc>,
}

statement!(PinThen { store: &'a str, date: NaiveDate, at: DateTime<Utc> } =
    "SELECT known_at FROM night_pins WHERE store_id = ", store: Text, " AND business_date = ",
    date: Date, " AND recorded_at <= ", at: Timestamptz,
    " ORDER BY recorded_at DESC, known_at DESC LIMIT 1");

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
    let found: Vec<Pin> = PinThen::new(store.as_str(), date.into(), at).load(conn).await?;
    Ok(found.into_iter().next().map(|pin| pin.known_at))
}

statement!(ActForRecall { stores: &'a [&'a str] } =
    "SELECT act_for_recall(", stores: Array<Text>, ") IS NULL");

/// Lets the acting person, who may read figures of the stores, look at all their facts until the
/// part is taken anew. The transaction only reads from here on.
///
/// # Errors
/// When the acting person may not read figures.
pub async fn act_for_recall(conn: &mut AsyncPgConnection, stores: &[&str]) -> QueryResult<()> {
    ActForRecall::new(stores).execute(conn).await.map(|_| ())
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
    /// The store.
    pub store: StoreId,
    /// The date.
    pub date: BusinessDate,
    /// Whether it had been tallied by then.
    pub tallied: bool,
}

statement!(FindTouched { from: NaiveDate, to: NaiveDate, since: DateTime<Utc>, limit: i64 } =
    "WITH asked AS (SELECT ", from: Date, " AS first, ", to: Date, " AS last, ",
    since: Timestamptz, " AS since)
     SELECT f.store_id, f.business_date, EXISTS (SELECT FROM night_pins p
       WHERE p.store_id = f.store_id AND p.business_date = f.business_date
         AND p.recorded_at <= asked.since) AS tallied
     FROM asked, LATERAL (
       SELECT store_id, business_date FROM entries
         WHERE business_date BETWEEN first AND last AND recorded_at > since
       UNION SELECT store_id, business_date FROM entry_withdrawals
         WHERE business_date BETWEEN first AND last AND withdrawn_at > since
       UNION SELECT store_id, business_date FROM till_batches
         WHERE business_date BETWEEN first AND last AND recorded_at > since
       UNION SELECT store_id, business_date FROM night_revisions
         WHERE business_date BETWEEN first AND last AND recorded_at > since
       UNION SELECT store_id, business_date FROM night_settlements
         WHERE business_date BETWEEN first AND last AND recorded_at > since
       UNION SELECT store_id, business_date FROM night_pins
         WHERE business_date BETWEEN first AND last AND recorded_at > since) f
     ORDER BY f.store_id, f.business_date LIMIT ", limit: BigInt, "");

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
    let rows: Vec<TouchedRow> = FindTouched::new(from, to, since, limit).load(conn).await?;
    let touched = |row: TouchedRow| {
        let (store, date) = (code(&row.store_id)?, row.business_date.into());
        Ok(Touched { store, date, tallied: row.tallied })
    };
    rows.into_iter().map(touched).collect()
}
