//! What was thrown away for safety.

use chrono::NaiveDate;
use diesel::sql_types::{BigInt, Date, SmallInt, Text};
use diesel::{QueryResult, QueryableByName};
use diesel_async::{AsyncPgConnection, RunQueryDsl};
use parings_core::calendar::DateSpan;
use parings_core::tally::RULES;

use super::statement::statement;

/// What a store threw away of an item on a date.
#[derive(Debug, Clone, PartialEq, Eq, QueryableByName)]
pub struct SafetyRow {
    /// The date.
    #[diesel(sql_type = Date)]
    pub business_date: NaiveDate,
    /// The store.
    #[diesel(sql_type = Text)]
    pub store_id: String,
    /// The item.
    #[diesel(sql_type = Text)]
    pub item_id: String,
    /// How much, in thousandths of its base unit.
    #[diesel(sql_type = BigInt)]
    pub wasted: i64,
    /// What that costs, in ten-thousandths of the currency's unit.
    #[diesel(sql_type = BigInt)]
    pub cost: i64,
}

statement!(List { district: &'a str, from: NaiveDate, to: NaiveDate, rules: i16 } =
    "SELECT business_date, store_id, item_id, wasted_safety AS wasted, wasted_safety_cost AS cost
     FROM item_days WHERE district_id = ", district: Text, " AND business_date BETWEEN ",
    from: Date, " AND ", to: Date, " AND rules = ", rules: SmallInt, " AND wasted_safety > 0
     ORDER BY business_date DESC, store_id, item_id");

/// What the stores of a district threw away for safety in a span, the last first.
///
/// # Errors
/// When the database cannot be reached.
pub async fn list(
    conn: &mut AsyncPgConnection,
    district: &str,
    span: DateSpan,
) -> QueryResult<Vec<SafetyRow>> {
    List::new(district, span.from().into(), span.to().into(), RULES).load(conn).await
}
