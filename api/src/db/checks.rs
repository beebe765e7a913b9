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
    /// The business date of the night.
    #[diesel(sql_type = Date)]
    pub business_date: NaiveDate,
    /// The count as typed.
    #[diesel(sql_type = Jsonb)]
    pub body: Json<Count>,
}

statement!(CountsInForce<'a> {
    store: &'a str => Text,
    from: NaiveDate => Date,
    before: NaiveDate => Date,
} = "checks/counts_in_force.sql");

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
    CountsInForce { store: store.as_str(), from: from.into(), before: before.into() }
        .load(conn)
        .await
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

statement!(LinesInForce<'a> {
    store: &'a str => Text,
    from: NaiveDate => Date,
    before: NaiveDate => Date,
} = "checks/lines_in_force.sql");

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
        LinesInForce { store: store.as_str(), from: from.into(), before: before.into() }
            .load(&mut conn)
            .await?;
    found.into_iter().map(|mut row| Ok((row.business_date.into(), row.lines()?))).collect()
}

/// A count that was sent a moment ago.
#[derive(Debug, Clone)]
pub struct SentRow {
    /// The date it was sent for.
    pub business_date: BusinessDate,
    /// When it came.
    pub recorded_at: DateTime<Utc>,
    /// The lines of the count as typed.
    pub lines: Vec<CountLine>,
    /// All of it, of a count for the date that was named.
    pub count: Option<Count>,
}

statement!(SentSince<'a> {
    store: &'a str => Text,
    from: NaiveDate => Date,
    since: DateTime<Utc> => Timestamptz,
    whole: NaiveDate => Date,
} = "checks/sent_since.sql");

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
        SentSince { store: store.as_str(), from: from.into(), since, whole: whole.into() }
            .load(&mut conn)
            .await?;
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
    /// When it was recorded.
    #[diesel(sql_type = Timestamptz)]
    pub recorded_at: DateTime<Utc>,
}

statement!(Elsewhere<'a> {
    by: Uuid => SqlUuid,
    stores: &'a [&'a str] => Array<Text>,
    from: NaiveDate => Date,
    since: DateTime<Utc> => Timestamptz,
} = "checks/elsewhere.sql");

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
    Elsewhere { by: by.0, stores, from: from.into(), since }.load(&mut conn).await
}

statement!(Changed {
    after: NaiveDate => Date,
    until: NaiveDate => Date,
    known: DateTime<Utc> => Timestamptz,
} = "checks/changed.sql");

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
    Changed { after: after.into(), until: until.into(), known }.load(&mut conn).await
}

#[derive(QueryableByName)]
struct LeftRow {
    #[diesel(sql_type = Text)]
    name: String,
}

statement!(LeftOf<'a> { ids: &'a [Uuid] => Array<SqlUuid> } = "checks/left_of.sql");

/// The names of those of some people whose account has ended; only crew and managers are told.
///
/// # Errors
/// When the database cannot be reached.
pub async fn left_of(conn: &mut AsyncPgConnection, ids: &[Uuid]) -> QueryResult<Vec<String>> {
    let rows: Vec<LeftRow> = LeftOf { ids }.load(conn).await?;
    Ok(rows.into_iter().map(|row| row.name).collect())
}
