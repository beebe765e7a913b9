//! Files that were brought in.

use chrono::{DateTime, NaiveDate, Utc};
use diesel::prelude::*;
use diesel::sql_types::{Array, Date, Text};
use diesel_async::{AsyncPgConnection, RunQueryDsl};
use parings_core::ids::StoreId;
use uuid::Uuid;

use super::statement::statement;
use crate::db::schema::imports;

/// A file on record.
#[derive(Debug, Clone, Queryable, Selectable, Insertable)]
#[diesel(table_name = imports, treat_none_as_default_value = false)]
pub struct ImportRow {
    /// Made from the content of the file.
    pub id: Uuid,
    /// What it was called.
    pub name: String,
    /// SHA-256 of its content.
    pub content_hash: Vec<u8>,
    /// What it holds.
    pub kind: String,
    /// How many rows it has.
    pub rows: i64,
    /// Stores it is about.
    pub stores: i64,
    /// Nights it is about.
    pub nights: i64,
    /// Its first business date.
    pub first_date: NaiveDate,
    /// The last business date it is about.
    pub last_date: NaiveDate,
    /// Why nights on record were changed.
    pub reason: Option<String>,
    /// By whom it was brought in.
    pub imported_by: Uuid,
    /// When it was brought in.
    pub imported_at: DateTime<Utc>,
}

/// The file of an id.
///
/// # Errors
/// When the database cannot be reached.
pub async fn find(conn: &mut AsyncPgConnection, id: Uuid) -> QueryResult<Option<ImportRow>> {
    imports::table.find(id).select(ImportRow::as_select()).first(conn).await.optional()
}

/// Puts a file on record.
///
/// # Errors
/// When the acting person may not.
pub async fn add(conn: &mut AsyncPgConnection, row: &ImportRow) -> QueryResult<()> {
    diesel::insert_into(imports::table).values(row).execute(conn).await.map(|_| ())
}

#[derive(QueryableByName)]
struct Dated {
    #[diesel(sql_type = Date)]
    date: NaiveDate,
}

statement!(MonthsWithoutPlace<'a> {
    months: &'a [NaiveDate] => Array<Date>,
} = "imports/months_without_place.sql");

/// Which months have no partitions.
///
/// # Errors
/// When the database cannot be reached.
pub async fn months_without_place(
    conn: &mut AsyncPgConnection,
    months: &[NaiveDate],
) -> QueryResult<Vec<NaiveDate>> {
    let found: Vec<Dated> = MonthsWithoutPlace { months }.load(conn).await?;
    Ok(found.into_iter().map(|row| row.date).collect())
}

statement!(Fed<'a> {
    store: &'a str => Text,
    dates: &'a [NaiveDate] => Array<Date>,
    list: &'a str => Text,
} = "imports/fed.sql");

/// Of these dates of a store, those of which a till sent something: `sales` or `tickets`.
///
/// # Errors
/// When the database cannot be reached.
pub async fn fed(
    conn: &mut AsyncPgConnection,
    store: &StoreId,
    dates: &[NaiveDate],
    list: &str,
) -> QueryResult<Vec<NaiveDate>> {
    let found: Vec<Dated> = Fed { store: store.as_str(), dates, list }.load(conn).await?;
    Ok(found.into_iter().map(|row| row.date).collect())
}
