//! What prep need is worked out from.

use chrono::NaiveDate;
use diesel::sql_types::{Date, Jsonb, Text};
use diesel::{QueryResult, QueryableByName};
use diesel_async::{AsyncPgConnection, RunQueryDsl};
use parings_core::calendar::BusinessDate;
use parings_core::ids::StoreId;
use serde_json::Value;

use super::statement::statement;

statement!(ActForPrep { store: &'a str } = "SELECT act_for_prep(", store: Text, ") IS NULL");

/// Lets the rules look at all facts of a store, in a transaction that only reads from here on.
///
/// # Errors
/// When the acting person does not see the store.
pub async fn act_for_prep(conn: &mut AsyncPgConnection, store: &StoreId) -> QueryResult<()> {
    ActForPrep::new(store.as_str()).execute(conn).await.map(|_| ())
}

/// What an entry says.
#[derive(QueryableByName)]
pub struct EntryBodyRow {
    /// Its date.
    #[diesel(sql_type = Date)]
    pub business_date: NaiveDate,
    /// The document.
    #[diesel(sql_type = Jsonb)]
    pub body: Value,
}

statement!(Entries { store: &'a str, after: NaiveDate, until: NaiveDate } =
    "SELECT e.business_date, e.body FROM entries e WHERE e.store_id = ", store: Text,
    " AND e.business_date > ", after: Date, " AND e.business_date <= ", until: Date,
    " AND e.kind IN ('waste', 'delivery', 'transfer_in', 'transfer_out', 'batch', 'preparation')
      AND NOT EXISTS (SELECT FROM entry_withdrawals w WHERE w.entry_id = e.id)
     ORDER BY e.business_date, e.recorded_at, e.id");

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
    Entries::new(store.as_str(), after.into(), until.into()).load(conn).await
}
