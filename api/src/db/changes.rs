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

/// Something recorded that touches a night.
#[derive(Debug, Clone, QueryableByName)]
pub struct EventRow {
    /// The business date of the night.
    #[diesel(sql_type = Date)]
    pub business_date: NaiveDate,
    /// Its kind's word.
    #[diesel(sql_type = Text)]
    pub kind: String,
    /// Which: an entry's kind, a revision's number, a batch's id.
    #[diesel(sql_type = Text)]
    pub what: String,
    /// When it was recorded.
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

statement!(OfNights<'a> {
    store: &'a str => Text,
    first: NaiveDate => Date,
    last: NaiveDate => Date,
    since: DateTime<Utc> => Timestamptz,
    until: DateTime<Utc> => Timestamptz,
    limit: i64 => BigInt,
} = "changes/of_nights.sql");

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
    OfNights { store: store.as_str(), first, last, since, until, limit }.load(conn).await
}

/// A night that something was recorded of, and what, by kind.
#[derive(Debug, Clone, QueryableByName)]
pub struct NightRow {
    /// The code of the store.
    #[diesel(sql_type = Text)]
    pub store_id: String,
    /// The business date of the night.
    #[diesel(sql_type = Date)]
    pub business_date: NaiveDate,
    /// A list of what happened: `kind`, `times`, `last_at` and `reasons`, five at most.
    #[diesel(sql_type = Jsonb)]
    pub events: Value,
}

statement!(OfScope<'a> {
    store: Option<&'a str> => Nullable<Text>,
    district: Option<&'a str> => Nullable<Text>,
    region: Option<&'a str> => Nullable<Text>,
    owner: Option<&'a str> => Nullable<Text>,
    first: NaiveDate => Date,
    last: NaiveDate => Date,
    since: DateTime<Utc> => Timestamptz,
    until: DateTime<Utc> => Timestamptz,
    date: Option<NaiveDate> => Nullable<Date>,
    after: Option<&'a str> => Nullable<Text>,
    limit: i64 => BigInt,
} = "changes/of_scope.sql");

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
    OfScope { store, district, region, owner, first, last, since, until, date, after: code, limit }
        .load(conn)
        .await
}
