//! What surrounds a count: what the checks compare it with.

use chrono::{DateTime, NaiveDate, Utc};
use diesel::result::Error;
use diesel::sql_types::{Array, Binary, Date, Jsonb, Nullable, Text, Timestamptz, Uuid as SqlUuid};
use diesel::{QueryResult, QueryableByName};
use diesel_async::{AsyncPgConnection, RunQueryDsl};
use parings_core::calendar::BusinessDate;
use parings_core::ids::{PersonId, StoreId};
use parings_core::night::{Count, CountLine, shelves};
use uuid::Uuid;

use super::catalog::VersionRow;
use super::json::Json;
use super::statement::statement;
use super::tallies::unreadable;

/// A count of a night, as it was typed.
#[derive(Debug, Clone, QueryableByName)]
pub struct CountRow {
    /// Its date.
    #[diesel(sql_type = Date)]
    pub business_date: NaiveDate,
    /// The count.
    #[diesel(sql_type = Jsonb)]
    pub body: Json<Count>,
}

statement!(InForce { store: &'a str, from: NaiveDate, before: NaiveDate } =
    "SELECT r.business_date, r.body FROM nights t
       JOIN night_revisions r ON r.store_id = t.store_id AND r.business_date = t.business_date
         AND r.revision = t.revision
     WHERE t.store_id = ", store: Text, " AND t.business_date >= ", from: Date,
    " AND t.business_date < ", before: Date, " ORDER BY t.business_date DESC");

/// The counts in force of a store's nights from a date on and before another, the newest first.
///
/// # Errors
/// When the database cannot be reached.
pub async fn counts_in_force(
    conn: &mut AsyncPgConnection,
    store: &StoreId,
    from: BusinessDate,
    before: BusinessDate,
) -> QueryResult<Vec<CountRow>> {
    InForce::new(store.as_str(), from.into(), before.into()).load(conn).await
}

/// What a count said of its shelves: packed, or the document of one that came before they were.
#[derive(QueryableByName)]
struct ShelvesRow {
    #[diesel(sql_type = Date)]
    business_date: NaiveDate,
    #[diesel(sql_type = Timestamptz)]
    recorded_at: DateTime<Utc>,
    #[diesel(sql_type = Nullable<Binary>)]
    shelves: Option<Vec<u8>>,
    #[diesel(sql_type = Nullable<Jsonb>)]
    body: Option<Json<Count>>,
}

impl ShelvesRow {
    fn lines(&mut self) -> QueryResult<Vec<CountLine>> {
        match (&self.shelves, self.body.take()) {
            (Some(packed), _) => shelves::unpack(packed).map_err(unreadable),
            (None, Some(Json(count))) => Ok(count.lines),
            (None, None) => Err(Error::NotFound),
        }
    }
}

statement!(ShelvesInForce { store: &'a str, from: NaiveDate, before: NaiveDate } =
    "SELECT r.business_date, r.recorded_at, r.shelves,
       CASE WHEN r.shelves IS NULL THEN r.body END AS body
     FROM nights t
       JOIN night_revisions r ON r.store_id = t.store_id AND r.business_date = t.business_date
         AND r.revision = t.revision
     WHERE t.store_id = ", store: Text, " AND t.business_date >= ", from: Date,
    " AND t.business_date < ", before: Date, " ORDER BY t.business_date DESC");

/// The lines of the counts in force of a store's nights from a date on and before another, the newest
/// first; without what is written on pans, and until when they keep.
///
/// # Errors
/// When the database cannot be reached, or holds what no rule wrote.
pub async fn lines_in_force(
    mut conn: &AsyncPgConnection,
    store: &StoreId,
    from: BusinessDate,
    before: BusinessDate,
) -> QueryResult<Vec<(BusinessDate, Vec<CountLine>)>> {
    let found: Vec<ShelvesRow> =
        ShelvesInForce::new(store.as_str(), from.into(), before.into()).load(&mut conn).await?;
    found.into_iter().map(|mut row| Ok((row.business_date.into(), row.lines()?))).collect()
}

/// A count that was sent a moment ago.
#[derive(Debug, Clone)]
pub struct SentRow {
    /// The date it was sent for.
    pub business_date: BusinessDate,
    /// When it came.
    pub recorded_at: DateTime<Utc>,
    /// Its lines.
    pub lines: Vec<CountLine>,
    /// All of it, of a count for the date that was named.
    pub count: Option<Count>,
}

statement!(Sent { store: &'a str, from: NaiveDate, since: DateTime<Utc>, whole: NaiveDate } =
    "SELECT r.business_date, r.recorded_at, r.shelves,
       CASE WHEN r.shelves IS NULL OR r.business_date = whole THEN r.body END AS body
     FROM night_revisions r, (SELECT ", store: Text, " AS store, ", from: Date, " AS first, ",
    since: Timestamptz, " AS since, ", whole: Date, " AS whole) AS asked
     WHERE r.store_id = store AND r.business_date >= first AND r.recorded_at >= since
     ORDER BY r.recorded_at DESC");

/// The counts of a store that were sent since a moment, for dates from one on: their lines, and all of
/// those for the date `whole`.
///
/// # Errors
/// When the database cannot be reached, or holds what no rule wrote.
pub async fn sent_since(
    mut conn: &AsyncPgConnection,
    store: &StoreId,
    from: BusinessDate,
    since: DateTime<Utc>,
    whole: BusinessDate,
) -> QueryResult<Vec<SentRow>> {
    let found: Vec<ShelvesRow> =
        Sent::new(store.as_str(), from.into(), since, whole.into()).load(&mut conn).await?;
    let sent = |mut row: ShelvesRow| {
        let count = row.body.as_ref().map(|body| body.0.clone());
        let (business_date, recorded_at) = (row.business_date.into(), row.recorded_at);
        Ok(SentRow { business_date, recorded_at, lines: row.lines()?, count })
    };
    found.into_iter().map(sent).collect()
}

/// Something that a person recorded.
#[derive(Debug, Clone, QueryableByName)]
pub struct ElsewhereRow {
    /// At which store.
    #[diesel(sql_type = Text)]
    pub store_id: String,
    /// When.
    #[diesel(sql_type = Timestamptz)]
    pub recorded_at: DateTime<Utc>,
}

statement!(Elsewhere { by: Uuid, stores: &'a [&'a str], from: NaiveDate, since: DateTime<Utc> } =
    "WITH asked AS (SELECT ", by: SqlUuid, " AS person, ", stores: Array<Text>, " AS stores, ",
    from: Date, " AS first, ", since: Timestamptz, " AS since)
     SELECT e.store_id, max(e.recorded_at) AS recorded_at FROM asked a, entries e
     WHERE e.store_id = ANY (a.stores) AND e.business_date >= a.first
       AND e.recorded_at >= a.since AND e.recorded_by = a.person GROUP BY e.store_id
     UNION ALL
     SELECT r.store_id, max(r.recorded_at) FROM asked a, night_revisions r
     WHERE r.store_id = ANY (a.stores) AND r.business_date >= a.first
       AND r.recorded_at >= a.since AND r.submitted_by = a.person GROUP BY r.store_id");

/// What a person recorded at some stores since a moment, for dates from one on.
///
/// # Errors
/// When the database cannot be reached.
pub async fn elsewhere(
    mut conn: &AsyncPgConnection,
    by: PersonId,
    stores: &[&str],
    from: BusinessDate,
    since: DateTime<Utc>,
) -> QueryResult<Vec<ElsewhereRow>> {
    Elsewhere::new(by.0, stores, from.into(), since).load(&mut conn).await
}

statement!(Changed { after: NaiveDate, until: NaiveDate, known: DateTime<Utc> } =
    "WITH asked AS (SELECT ", after: Date, " AS after, ", until: Date, " AS until, ",
    known: Timestamptz, " AS known)
     SELECT v.id, v.kind, v.code, v.valid_from, v.recorded_at, v.recorded_by, v.reason, v.retired,
       v.body
     FROM asked a, reference_versions v
     WHERE v.kind IN ('prices', 'products') AND NOT v.retired AND v.valid_from > a.after
       AND v.valid_from <= a.until AND v.recorded_at <= a.known
       AND EXISTS (SELECT FROM reference_versions w WHERE w.kind = v.kind AND w.code = v.code
         AND w.valid_from < v.valid_from AND w.recorded_at <= a.known)");

/// Prices and products that changed after a date, up to another, as known at a moment.
///
/// # Errors
/// When the database cannot be reached.
pub async fn changed(
    mut conn: &AsyncPgConnection,
    after: BusinessDate,
    until: BusinessDate,
    known: DateTime<Utc>,
) -> QueryResult<Vec<VersionRow>> {
    Changed::new(after.into(), until.into(), known).load(&mut conn).await
}

#[derive(QueryableByName)]
struct LeftRow {
    #[diesel(sql_type = Text)]
    name: String,
}

statement!(LeftOf { ids: &'a [Uuid] } = "SELECT name FROM left_of(", ids: Array<SqlUuid>, ")");

/// The names of those of some people whose account has ended; only crew and managers are told.
///
/// # Errors
/// When the database cannot be reached.
pub async fn left_of(conn: &mut AsyncPgConnection, ids: &[Uuid]) -> QueryResult<Vec<String>> {
    let rows: Vec<LeftRow> = LeftOf::new(ids).load(conn).await?;
    Ok(rows.into_iter().map(|row| row.name).collect())
}
