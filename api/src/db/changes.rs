//! What was recorded between two moments, and touches figures.

use chrono::{DateTime, NaiveDate, Utc};
use diesel::sql_types::{BigInt, Bool, Date, Jsonb, Nullable, Text, Timestamptz, Uuid as SqlUuid};
use diesel::{QueryResult, QueryableByName};
use diesel_async::{AsyncPgConnection, RunQueryDsl};
use parings_core::calendar::{BusinessDate, DateSpan};
use parings_core::ids::StoreId;
use parings_core::rollup::Scope;
use serde_json::Value;
use uuid::Uuid;

use super::statement::statement;

/// Between two moments: after the first, up to and including the second.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Between {
    /// After this one.
    pub since: DateTime<Utc>,
    /// Up to this one.
    pub until: DateTime<Utc>,
}

/// Something recorded.
#[derive(Debug, Clone, QueryableByName)]
pub struct EventRow {
    /// The night.
    #[diesel(sql_type = Date)]
    pub business_date: NaiveDate,
    /// Its kind's word.
    #[diesel(sql_type = Text)]
    pub kind: String,
    /// Which: an entry's kind, a revision's number, a batch's id.
    #[diesel(sql_type = Text)]
    pub what: String,
    /// When.
    #[diesel(sql_type = Timestamptz)]
    pub at: DateTime<Utc>,
    /// By whom; nobody, where the server did it by itself.
    #[diesel(sql_type = Nullable<SqlUuid>)]
    pub person: Option<Uuid>,
    /// Why, where somebody said.
    #[diesel(sql_type = Nullable<Text>)]
    pub reason: Option<String>,
    /// Whether it came after the night's count was accepted.
    #[diesel(sql_type = Bool)]
    pub late: bool,
}

statement!(OfNights { store: &'a str, first: NaiveDate, last: NaiveDate, since: DateTime<Utc>,
    until: DateTime<Utc>, limit: i64 } =
    "SELECT business_date, kind, what, at, person, reason,
       coalesce(kind IN ('entry', 'withdrawal', 'till_batch')
         AND at > first_accepted(store_id, business_date), false) AS late
     FROM night_events WHERE store_id = ", store: Text, " AND business_date >= ", first: Date,
    " AND business_date <= ", last: Date, " AND at > ", since: Timestamptz, " AND at <= ",
    until: Timestamptz, " ORDER BY at, business_date, kind, id LIMIT ", limit: BigInt, "");

/// What was recorded of a store's nights, oldest first; `limit` at most.
///
/// # Errors
/// When the database cannot be reached.
pub async fn of_nights(
    conn: &mut AsyncPgConnection,
    store: &StoreId,
    span: DateSpan,
    between: Between,
    limit: i64,
) -> QueryResult<Vec<EventRow>> {
    let (first, last) = (span.from().into(), span.to().into());
    let Between { since, until } = between;
    OfNights::new(store.as_str(), first, last, since, until, limit).load(conn).await
}

/// A night that something was recorded of, and what, by kind.
#[derive(Debug, Clone, QueryableByName)]
pub struct NightRow {
    /// The store.
    #[diesel(sql_type = Text)]
    pub store_id: String,
    /// The date.
    #[diesel(sql_type = Date)]
    pub business_date: NaiveDate,
    /// A list of what happened: `kind`, `times`, `last_at` and `reasons`, five at most.
    #[diesel(sql_type = Jsonb)]
    pub events: Value,
}

// A change before the span moves it where a span of use reaches back to it: nights are listed from
// the earliest opening on.
statement!(OfScope { store: Option<&'a str>, district: Option<&'a str>, region: Option<&'a str>,
    owner: Option<&'a str>, first: NaiveDate, last: NaiveDate, since: DateTime<Utc>,
    until: DateTime<Utc>, date: Option<NaiveDate>, after: Option<&'a str>, limit: i64 } =
    "WITH asked AS (SELECT ", store: Nullable<Text>, " AS store, ", district: Nullable<Text>,
    " AS district, ", region: Nullable<Text>, " AS region, ", owner: Nullable<Text>,
    " AS owner, ", first: Date, " AS first, ", last: Date, " AS last, ", since: Timestamptz,
    " AS since, ", until: Timestamptz, " AS until, ", date: Nullable<Date>, " AS date, ",
    after: Nullable<Text>, " AS after), reach AS (
       SELECT least(min(s.reaches), min(a.first)) AS first FROM asked a LEFT JOIN nights s
         ON s.business_date BETWEEN a.first AND a.last
         AND coalesce(s.store_id = a.store, true) AND coalesce(s.district_id = a.district, true)
         AND coalesce(s.region_id = a.region, true) AND coalesce(s.owner_id = a.owner, true)
     ), found AS (
       SELECT e.store_id, e.business_date, e.kind, count(*) AS times, max(e.at) AS last_at,
         (array_agg(DISTINCT e.reason) FILTER (WHERE e.reason IS NOT NULL))[1:5] AS reasons
       FROM night_events e, asked a, reach r
       WHERE e.business_date BETWEEN r.first AND a.last AND e.at > a.since AND e.at <= a.until
         AND coalesce(e.store_id = a.store, true) AND coalesce(e.district_id = a.district, true)
         AND coalesce(e.region_id = a.region, true) AND coalesce(e.owner_id = a.owner, true)
         AND coalesce((e.business_date, e.store_id) > (a.date, a.after), true)
       GROUP BY e.store_id, e.business_date, e.kind)
     SELECT store_id, business_date, jsonb_agg(jsonb_build_object('kind', kind, 'times', times,
       'last_at', last_at, 'reasons', coalesce(reasons, '{}')) ORDER BY kind) AS events
     FROM found GROUP BY store_id, business_date ORDER BY business_date, store_id LIMIT ",
    limit: BigInt, "");

/// The nights of a scope that something was recorded of, by date and store, from after `after` on.
///
/// # Errors
/// When the database cannot be reached.
pub async fn of_scope(
    conn: &mut AsyncPgConnection,
    scope: &Scope,
    span: DateSpan,
    between: Between,
    after: Option<(BusinessDate, &StoreId)>,
    limit: i64,
) -> QueryResult<Vec<NightRow>> {
    let [mut store, mut district, mut region, mut owner] = [None; 4];
    match scope {
        Scope::Store(code) => store = Some(code.as_str()),
        Scope::District(code) => district = Some(code.as_str()),
        Scope::Region(code) => region = Some(code.as_str()),
        Scope::Owner(code) => owner = Some(code.as_str()),
        Scope::Network => {}
    }
    let (first, last) = (span.from().into(), span.to().into());
    let (date, code) = after.map(|(date, store)| (date.into(), store.as_str())).unzip();
    let Between { since, until } = between;
    OfScope::new(store, district, region, owner, first, last, since, until, date, code, limit)
        .load(conn)
        .await
}
