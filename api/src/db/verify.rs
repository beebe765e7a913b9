//! Everything that is stored of a store's tallies, read as the read-only role.

use chrono::NaiveDate;
use diesel::result::Error;
use diesel::sql_types::{Array, BigInt, Date, Text};
use diesel::{QueryResult, QueryableByName};
use diesel_async::{AsyncPgConnection, RunQueryDsl};
use parings_core::calendar::BusinessDate;
use parings_core::ids::StoreId;
use parings_core::tally::pack::{Listed, Part};

use super::statement::statement;

#[derive(QueryableByName)]
struct Named {
    #[diesel(sql_type = Text)]
    store_id: String,
}

statement!(Stores {} = "verify/stores.sql");

/// Every store that has facts or tallies.
///
/// # Errors
/// When the database cannot be reached.
pub async fn stores(conn: &mut AsyncPgConnection) -> QueryResult<Vec<String>> {
    let found: Vec<Named> = Stores {}.load(conn).await?;
    Ok(found.into_iter().map(|row| row.store_id).collect())
}

#[derive(QueryableByName)]
struct Dated {
    #[diesel(sql_type = Date)]
    business_date: NaiveDate,
}

statement!(NightsWithFacts<'a> { store: &'a str => Text } = "verify/nights_with_facts.sql");

/// The nights of a store that have facts, withdrawn ones included.
///
/// # Errors
/// When the database cannot be reached.
pub async fn nights_with_facts(
    conn: &mut AsyncPgConnection,
    store: &StoreId,
) -> QueryResult<Vec<BusinessDate>> {
    let found: Vec<Dated> = NightsWithFacts { store: store.as_str() }.load(conn).await?;
    Ok(found.into_iter().map(|row| row.business_date.into()).collect())
}

/// A part of a night as the database unpacks it.
#[derive(QueryableByName)]
struct PartRow {
    #[diesel(sql_type = Date)]
    business_date: NaiveDate,
    #[diesel(sql_type = Text)]
    part: String,
    #[diesel(sql_type = Array<Text>)]
    codes: Vec<String>,
    #[diesel(sql_type = Array<BigInt>)]
    numbers: Vec<i64>,
}

statement!(Parts<'a> { store: &'a str => Text } = "verify/parts.sql");

/// The parts of a store's nights, as the database unpacks them for analysts.
///
/// # Errors
/// When the database cannot be reached, or lists a part that core does not know.
pub async fn parts(
    conn: &mut AsyncPgConnection,
    store: &StoreId,
) -> QueryResult<Vec<(BusinessDate, Listed)>> {
    let rows: Vec<PartRow> = Parts { store: store.as_str() }.load(conn).await?;
    let listed = |row: PartRow| {
        let PartRow { business_date, part, codes, numbers } = row;
        let known = Part::from_word(&part);
        let part =
            known.ok_or_else(|| Error::DeserializationError(format!("a part {part}").into()))?;
        Ok((business_date.into(), Listed { part, codes, numbers }))
    };
    rows.into_iter().map(listed).collect()
}
