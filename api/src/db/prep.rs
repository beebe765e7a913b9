//! What prep need is worked out from.

use chrono::NaiveDate;
use diesel::sql_types::{Date, Jsonb, Text};
use diesel::{QueryResult, QueryableByName};
use diesel_async::{AsyncPgConnection, RunQueryDsl};
use parings_core::calendar::BusinessDate;
use parings_core::ids::StoreId;
use serde_json::Value;

use super::statement::statement;

statement!(ActForPrep<'a> { store: &'a str => Text } = "prep/act_for_prep.sql");

/// Lets the rules look at all facts of a store, in a transaction that only reads from here on.
///
/// # Errors
/// When the acting person does not see the store.
pub async fn act_for_prep(conn: &mut AsyncPgConnection, store: &StoreId) -> QueryResult<()> {
    ActForPrep { store: store.as_str() }.execute(conn).await.map(|_| ())
}

/// What an entry says.
#[derive(QueryableByName)]
pub struct EntryBodyRow {
    /// The business date that it was recorded for.
    #[diesel(sql_type = Date)]
    pub business_date: NaiveDate,
    /// The entry, as a document.
    #[diesel(sql_type = Jsonb)]
    pub body: Value,
}

statement!(Entries<'a> {
    store: &'a str => Text,
    after: NaiveDate => Date,
    until: NaiveDate => Date,
} = "prep/entries.sql");

/// The entries that move stock, of the dates after `after` up to `until`, without withdrawn ones.
///
/// # Errors
/// When the database cannot be reached.
pub async fn entries(
    conn: &mut AsyncPgConnection,
    store: &StoreId,
    after: BusinessDate,
    until: BusinessDate,
) -> QueryResult<Vec<EntryBodyRow>> {
    Entries { store: store.as_str(), after: after.into(), until: until.into() }.load(conn).await
}
