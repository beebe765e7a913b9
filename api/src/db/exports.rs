//! Facts and figures in the order in which they are written to files.

use chrono::NaiveDate;
use diesel::sql_types::{Date, Jsonb, Nullable, Text, Uuid as SqlUuid};
use diesel::{QueryResult, QueryableByName};
use diesel_async::{AsyncPgConnection, RunQueryDsl};
use parings_core::calendar::DateSpan;
use parings_core::ids::{DistrictId, StoreId};
use serde_json::Value;
use uuid::Uuid;

use super::statement::statement;

/// Which rows of a store: those of a span of dates, on which it stood in a district if one is named.
#[derive(Debug, Clone, Copy)]
pub struct Rows<'a> {
    /// The store.
    pub store: &'a StoreId,
    /// The dates.
    pub span: DateSpan,
    /// The district.
    pub district: Option<&'a DistrictId>,
}

impl<'a> Rows<'a> {
    fn parts(self) -> (&'a str, NaiveDate, NaiveDate, Option<&'a str>) {
        let (from, to) = (self.span.from().into(), self.span.to().into());
        (self.store.as_str(), from, to, self.district.map(DistrictId::as_str))
    }
}

/// A document of a night.
#[derive(Debug, QueryableByName)]
pub struct DocumentRow {
    /// The date.
    #[diesel(sql_type = Date)]
    pub business_date: NaiveDate,
    /// The document.
    #[diesel(sql_type = Jsonb)]
    pub body: Value,
}

/// An entry.
#[derive(Debug, QueryableByName)]
pub struct EntryDocument {
    /// The date.
    #[diesel(sql_type = Date)]
    pub business_date: NaiveDate,
    /// Its id.
    #[diesel(sql_type = SqlUuid)]
    pub id: Uuid,
    /// What it says.
    #[diesel(sql_type = Jsonb)]
    pub body: Value,
}

statement!(Stores { from: NaiveDate, to: NaiveDate, district: Option<&'a str> } =
    "WITH asked AS (SELECT ", from: Date, " AS earliest, ", to: Date, " AS latest, ",
    district: Nullable<Text>, " AS district),
     facts AS (
       SELECT store_id, business_date, district_id FROM night_revisions
       UNION ALL SELECT store_id, business_date, district_id FROM entries
       UNION ALL SELECT store_id, business_date, district_id FROM till_batches)
     SELECT DISTINCT f.store_id FROM facts f, asked a
     WHERE f.business_date BETWEEN a.earliest AND a.latest
       AND (a.district IS NULL OR f.district_id = a.district) ORDER BY f.store_id");

#[derive(QueryableByName)]
struct Named {
    #[diesel(sql_type = Text)]
    store_id: String,
}

/// The stores that have facts in a span of dates, in a district if one is named.
///
/// # Errors
/// When the database cannot be reached.
pub async fn stores(
    conn: &mut AsyncPgConnection,
    span: DateSpan,
    district: Option<&DistrictId>,
) -> QueryResult<Vec<StoreId>> {
    let district = district.map(DistrictId::as_str);
    let found: Vec<Named> =
        Stores::new(span.from().into(), span.to().into(), district).load(conn).await?;
    found.iter().map(|row| super::tallies::code(&row.store_id)).collect()
}

statement!(Counts { store: &'a str, from: NaiveDate, to: NaiveDate, district: Option<&'a str> } =
    "WITH asked AS (SELECT ", store: Text, " AS store, ", from: Date, " AS earliest, ", to: Date,
    " AS latest, ", district: Nullable<Text>, " AS district)
     SELECT DISTINCT ON (r.business_date) r.business_date, r.body
     FROM asked a JOIN night_revisions r ON r.store_id = a.store
       AND r.business_date BETWEEN a.earliest AND a.latest
     LEFT JOIN night_settlements s ON s.store_id = r.store_id
       AND s.business_date = r.business_date AND s.revision = r.revision
     WHERE (r.state = 'accepted' OR s.outcome = 'accepted')
       AND (a.district IS NULL OR r.district_id = a.district)
     ORDER BY r.business_date, r.revision DESC");

/// The counts in force.
///
/// # Errors
/// When the database cannot be reached.
pub async fn counts(conn: &mut AsyncPgConnection, rows: Rows<'_>) -> QueryResult<Vec<DocumentRow>> {
    let (store, from, to, district) = rows.parts();
    Counts::new(store, from, to, district).load(conn).await
}

statement!(Entries { store: &'a str, from: NaiveDate, to: NaiveDate, district: Option<&'a str> } =
    "WITH asked AS (SELECT ", store: Text, " AS store, ", from: Date, " AS earliest, ", to: Date,
    " AS latest, ", district: Nullable<Text>, " AS district)
     SELECT e.business_date, e.id, e.body FROM asked a JOIN entries e ON e.store_id = a.store
       AND e.business_date BETWEEN a.earliest AND a.latest
     WHERE (a.district IS NULL OR e.district_id = a.district)
       AND NOT EXISTS (SELECT FROM entry_withdrawals w WHERE w.entry_id = e.id)
     ORDER BY e.business_date, e.id");

/// The entries that count.
///
/// # Errors
/// When the database cannot be reached.
pub async fn entries(
    conn: &mut AsyncPgConnection,
    rows: Rows<'_>,
) -> QueryResult<Vec<EntryDocument>> {
    let (store, from, to, district) = rows.parts();
    Entries::new(store, from, to, district).load(conn).await
}

statement!(Batches { store: &'a str, from: NaiveDate, to: NaiveDate, district: Option<&'a str> } =
    "WITH asked AS (SELECT ", store: Text, " AS store, ", from: Date, " AS earliest, ", to: Date,
    " AS latest, ", district: Nullable<Text>, " AS district)
     SELECT b.business_date, b.body FROM asked a JOIN till_batches b ON b.store_id = a.store
       AND b.business_date BETWEEN a.earliest AND a.latest
     WHERE a.district IS NULL OR b.district_id = a.district
     ORDER BY b.business_date, b.recorded_at, b.batch_id");

/// What tills sent, in the order it came.
///
/// # Errors
/// When the database cannot be reached.
pub async fn batches(
    conn: &mut AsyncPgConnection,
    rows: Rows<'_>,
) -> QueryResult<Vec<DocumentRow>> {
    let (store, from, to, district) = rows.parts();
    Batches::new(store, from, to, district).load(conn).await
}
