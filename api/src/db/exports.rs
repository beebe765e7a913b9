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
    /// The store whose rows they are.
    pub store: &'a StoreId,
    /// From the first business date to the last.
    pub span: DateSpan,
    /// Only of dates on which the store stood in it; of all if none is named.
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
    /// The business date of the night.
    #[diesel(sql_type = Date)]
    pub business_date: NaiveDate,
    /// The document as it was recorded.
    #[diesel(sql_type = Jsonb)]
    pub body: Value,
}

/// An entry that was not withdrawn.
#[derive(Debug, QueryableByName)]
pub struct EntryDocument {
    /// The business date that it was recorded for.
    #[diesel(sql_type = Date)]
    pub business_date: NaiveDate,
    /// The client's id of the entry.
    #[diesel(sql_type = SqlUuid)]
    pub id: Uuid,
    /// What it says.
    #[diesel(sql_type = Jsonb)]
    pub body: Value,
}

statement!(Stores<'a> {
    from: NaiveDate => Date,
    to: NaiveDate => Date,
    district: Option<&'a str> => Nullable<Text>,
} = "exports/stores.sql");

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
        Stores { from: span.from().into(), to: span.to().into(), district }.load(conn).await?;
    found.iter().map(|row| super::tallies::code(&row.store_id)).collect()
}

statement!(Counts<'a> {
    store: &'a str => Text,
    from: NaiveDate => Date,
    to: NaiveDate => Date,
    district: Option<&'a str> => Nullable<Text>,
} = "exports/counts.sql");

/// The counts in force.
///
/// # Errors
/// When the database cannot be reached.
pub async fn counts(conn: &mut AsyncPgConnection, rows: Rows<'_>) -> QueryResult<Vec<DocumentRow>> {
    let (store, from, to, district) = rows.parts();
    Counts { store, from, to, district }.load(conn).await
}

statement!(Entries<'a> {
    store: &'a str => Text,
    from: NaiveDate => Date,
    to: NaiveDate => Date,
    district: Option<&'a str> => Nullable<Text>,
} = "exports/entries.sql");

/// The entries that count.
///
/// # Errors
/// When the database cannot be reached.
pub async fn entries(
    conn: &mut AsyncPgConnection,
    rows: Rows<'_>,
) -> QueryResult<Vec<EntryDocument>> {
    let (store, from, to, district) = rows.parts();
    Entries { store, from, to, district }.load(conn).await
}

statement!(Batches<'a> {
    store: &'a str => Text,
    from: NaiveDate => Date,
    to: NaiveDate => Date,
    district: Option<&'a str> => Nullable<Text>,
} = "exports/batches.sql");

/// What tills sent, in the order it came.
///
/// # Errors
/// When the database cannot be reached.
pub async fn batches(
    conn: &mut AsyncPgConnection,
    rows: Rows<'_>,
) -> QueryResult<Vec<DocumentRow>> {
    let (store, from, to, district) = rows.parts();
    Batches { store, from, to, district }.load(conn).await
}
