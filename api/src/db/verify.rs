//! Everything that is stored of a store's tallies, read as the read-only role.

use chrono::NaiveDate;
use diesel::sql_types::{Date, Jsonb, SmallInt, Text};
use diesel::{QueryResult, QueryableByName};
use diesel_async::{AsyncPgConnection, RunQueryDsl};
use parings_core::calendar::BusinessDate;
use parings_core::ids::StoreId;
use parings_core::tally::RULES;
use serde_json::Value;

use super::statement::statement;

/// A table of tallies.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Table {
    /// `item_days`.
    ItemDays,
    /// `item_spans`.
    ItemSpans,
    /// `daypart_tallies`.
    DaypartTallies,
    /// `night_tallies`.
    NightTallies,
    /// `review_nights`, those that hold.
    ReviewNights,
}

impl Table {
    /// Its name.
    pub fn name(self) -> &'static str {
        match self {
            Self::ItemDays => "item_days",
            Self::ItemSpans => "item_spans",
            Self::DaypartTallies => "daypart_tallies",
            Self::NightTallies => "night_tallies",
            Self::ReviewNights => "review_nights",
        }
    }
}

#[derive(QueryableByName)]
struct Named {
    #[diesel(sql_type = Text)]
    store_id: String,
}

statement!(Stores { rules: i16, rules2: i16, rules3: i16, rules4: i16 } =
    "SELECT store_id FROM entries UNION SELECT store_id FROM night_revisions
     UNION SELECT store_id FROM till_batches
     UNION SELECT store_id FROM item_days WHERE rules = ", rules: SmallInt,
    " UNION SELECT store_id FROM item_spans WHERE rules = ", rules2: SmallInt,
    " UNION SELECT store_id FROM daypart_tallies WHERE rules = ", rules3: SmallInt,
    " UNION SELECT store_id FROM night_tallies WHERE rules = ", rules4: SmallInt,
    " ORDER BY store_id");

/// Every store that has facts or tallies.
///
/// # Errors
/// When the database cannot be reached.
pub async fn stores(conn: &mut AsyncPgConnection) -> QueryResult<Vec<String>> {
    let found: Vec<Named> = Stores::new(RULES, RULES, RULES, RULES).load(conn).await?;
    Ok(found.into_iter().map(|row| row.store_id).collect())
}

#[derive(QueryableByName)]
struct Dated {
    #[diesel(sql_type = Date)]
    business_date: NaiveDate,
}

statement!(Nights { store: &'a str, store2: &'a str, store3: &'a str } =
    "SELECT business_date FROM entries WHERE store_id = ", store: Text,
    " UNION SELECT business_date FROM night_revisions WHERE store_id = ", store2: Text,
    " UNION SELECT business_date FROM till_batches WHERE store_id = ", store3: Text,
    " ORDER BY business_date");

/// The nights of a store that have facts, withdrawn ones included.
///
/// # Errors
/// When the database cannot be reached.
pub async fn nights_with_facts(
    conn: &mut AsyncPgConnection,
    store: &StoreId,
) -> QueryResult<Vec<BusinessDate>> {
    let id = store.as_str();
    let found: Vec<Dated> = Nights::new(id, id, id).load(conn).await?;
    Ok(found.into_iter().map(|row| row.business_date.into()).collect())
}

#[derive(QueryableByName)]
struct Document {
    #[diesel(sql_type = Jsonb)]
    row: Value,
}

statement!(ItemDays { store: &'a str, rules: i16 } =
    "SELECT to_jsonb(t) AS row FROM item_days t WHERE store_id = ", store: Text,
    " AND rules = ", rules: SmallInt, "");
statement!(ItemSpans { store: &'a str, rules: i16 } =
    "SELECT to_jsonb(t) AS row FROM item_spans t WHERE store_id = ", store: Text,
    " AND rules = ", rules: SmallInt, "");
statement!(DaypartTallies { store: &'a str, rules: i16 } =
    "SELECT to_jsonb(t) AS row FROM daypart_tallies t WHERE store_id = ", store: Text,
    " AND rules = ", rules: SmallInt, "");
statement!(NightTallies { store: &'a str, rules: i16 } =
    "SELECT to_jsonb(t) AS row FROM night_tallies t WHERE store_id = ", store: Text,
    " AND rules = ", rules: SmallInt, "");
statement!(ReviewNights { store: &'a str, rules: i16 } =
    "SELECT to_jsonb(k) AS row FROM review_nights k JOIN night_tallies n USING (store_id, business_date)
     WHERE store_id = ", store: Text, " AND n.rules = ", rules: SmallInt,
    " AND k.rules = n.rules AND k.mark = n.xmin::text");

/// The rows of a table that a store has under the rules in force, as documents whose members are
/// the columns. They are not read as tallies, so that nothing in them can hide.
///
/// # Errors
/// When the database cannot be reached.
pub async fn rows(
    conn: &mut AsyncPgConnection,
    table: Table,
    store: &StoreId,
) -> QueryResult<Vec<Value>> {
    let id = store.as_str();
    let found: Vec<Document> = match table {
        Table::ItemDays => ItemDays::new(id, RULES).load(conn).await?,
        Table::ItemSpans => ItemSpans::new(id, RULES).load(conn).await?,
        Table::DaypartTallies => DaypartTallies::new(id, RULES).load(conn).await?,
        Table::NightTallies => NightTallies::new(id, RULES).load(conn).await?,
        Table::ReviewNights => ReviewNights::new(id, RULES).load(conn).await?,
    };
    Ok(found.into_iter().map(|document| document.row).collect())
}
