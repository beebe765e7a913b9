//! Versions of reference documents, as far as they make the catalogue of a date.
//!
//! In force on a date as known at a moment is, of the versions recorded by then and valid by then,
//! the one valid latest, then recorded latest, then with the greatest id.

use chrono::{DateTime, NaiveDate, Utc};
use diesel::dsl::max;
use diesel::prelude::*;
use diesel::sql_types::{Array, Date, Jsonb, Nullable, Text, Timestamptz};
use diesel_async::{AsyncPgConnection, RunQueryDsl};
use parings_core::calendar::BusinessDate;
use parings_core::catalog::Kind;
use parings_core::ids::StoreId;
use serde_json::Value;
use uuid::Uuid;

use super::statement::statement;
use crate::db::functions::store_in_force;
use crate::db::schema::reference_versions as versions;

/// A version of a document.
#[derive(Debug, Clone, Queryable, QueryableByName, Selectable)]
#[diesel(table_name = versions)]
pub struct VersionRow {
    /// Its id, which is its ETag too.
    pub id: i64,
    /// The kind's word.
    pub kind: String,
    /// The document's code.
    pub code: String,
    /// The first business date it holds for.
    pub valid_from: NaiveDate,
    /// When it was recorded.
    pub recorded_at: DateTime<Utc>,
    /// By whom; nobody for the starting values.
    pub recorded_by: Option<Uuid>,
    /// Why, where a reason was given.
    pub reason: Option<String>,
    /// Whether it ends the document.
    pub retired: bool,
    /// What it says; of one that ends the document, what the document said last.
    pub body: Value,
}

/// The greatest id among versions known at a moment, stores apart. Versions are recorded one after
/// the other, with rising ids and times, so it stands for the whole set.
///
/// # Errors
/// When the database cannot be reached.
pub async fn edition(
    mut conn: &AsyncPgConnection,
    known_at: DateTime<Utc>,
) -> QueryResult<Option<i64>> {
    versions::table
        .filter(versions::kind.ne(Kind::Store.word()))
        .filter(versions::recorded_at.le(known_at))
        .select(max(versions::id))
        .get_result(&mut conn)
        .await
}

/// The versions in force on a date of an edition, stores apart; those that end a document are
/// among them.
///
/// # Errors
/// When the database cannot be reached.
pub async fn in_force(
    mut conn: &AsyncPgConnection,
    on: BusinessDate,
    edition: i64,
) -> QueryResult<Vec<VersionRow>> {
    versions::table
        .filter(versions::kind.ne(Kind::Store.word()))
        .filter(versions::id.le(edition))
        .filter(versions::valid_from.le(NaiveDate::from(on)))
        .distinct_on((versions::kind, versions::code))
        .order((
            versions::kind,
            versions::code,
            versions::valid_from.desc(),
            versions::recorded_at.desc(),
            versions::id.desc(),
        ))
        .select(VersionRow::as_select())
        .load(&mut conn)
        .await
}

/// Every version on record, stores apart.
///
/// # Errors
/// When the database cannot be reached.
pub async fn every_version(conn: &mut AsyncPgConnection) -> QueryResult<Vec<VersionRow>> {
    versions::table
        .filter(versions::kind.ne(Kind::Store.word()))
        .select(VersionRow::as_select())
        .load(conn)
        .await
}

/// Every version of some stores, as far as the acting person may see them.
///
/// # Errors
/// When the database cannot be reached.
pub async fn every_version_of_stores(
    conn: &mut AsyncPgConnection,
    stores: &[&str],
) -> QueryResult<Vec<VersionRow>> {
    versions::table
        .filter(versions::kind.eq(Kind::Store.word()))
        .filter(versions::code.eq_any(stores))
        .select(VersionRow::as_select())
        .load(conn)
        .await
}

/// The version of one document in force on a date as known at a moment; not for stores.
///
/// # Errors
/// When the database cannot be reached.
pub async fn one(
    conn: &mut AsyncPgConnection,
    kind: Kind,
    code: &str,
    on: BusinessDate,
    known_at: DateTime<Utc>,
) -> QueryResult<Option<VersionRow>> {
    versions::table
        .filter(versions::kind.eq(kind.word()))
        .filter(versions::code.eq(code))
        .filter(versions::valid_from.le(NaiveDate::from(on)))
        .filter(versions::recorded_at.le(known_at))
        .order((versions::valid_from.desc(), versions::recorded_at.desc(), versions::id.desc()))
        .select(VersionRow::as_select())
        .first(conn)
        .await
        .optional()
}

/// The version of a store in force on a date as known at a moment, when the acting person may see
/// it. An older version that they may see does not take its place.
///
/// # Errors
/// When the database cannot be reached.
pub async fn store(
    mut conn: &AsyncPgConnection,
    store: &StoreId,
    on: BusinessDate,
    known_at: DateTime<Utc>,
) -> QueryResult<Option<VersionRow>> {
    let counts = store_in_force(store.as_str(), NaiveDate::from(on), known_at);
    versions::table
        .filter(versions::id.nullable().eq(counts))
        .select(VersionRow::as_select())
        .first(&mut conn)
        .await
        .optional()
}

/// From when on a document said what.
#[derive(Debug, Clone, QueryableByName)]
pub struct TurnRow {
    /// The document's code.
    #[diesel(sql_type = Text)]
    pub code: String,
    /// The first business date.
    #[diesel(sql_type = Date)]
    pub valid_from: NaiveDate,
    /// What it said; nothing when it was retired or is not the acting person's to see.
    #[diesel(sql_type = Nullable<Jsonb>)]
    pub body: Option<Value>,
}

/// What stores said from when on, up to a date, as known at a moment, in order of code and date.
///
/// # Errors
/// When the database cannot be reached.
pub async fn store_turns(
    conn: &mut AsyncPgConnection,
    until: BusinessDate,
    known_at: DateTime<Utc>,
) -> QueryResult<Vec<TurnRow>> {
    StoreTurns { until: until.into(), known: known_at }.load(conn).await
}

statement!(StoreTurns {
    until: NaiveDate => Date,
    known: DateTime<Utc> => Timestamptz,
} = "catalog/store_turns.sql");

/// The same of the stores that are named.
///
/// # Errors
/// When the database cannot be reached.
pub async fn turns_of_named(
    mut conn: &AsyncPgConnection,
    named: &[&str],
    until: BusinessDate,
    known_at: DateTime<Utc>,
) -> QueryResult<Vec<TurnRow>> {
    TurnsOfNamed { named, until: until.into(), known: known_at }.load(&mut conn).await
}

statement!(TurnsOfNamed<'a> {
    named: &'a [&'a str] => Array<Text>,
    until: NaiveDate => Date,
    known: DateTime<Utc> => Timestamptz,
} = "catalog/turns_of_named.sql");

/// The same of the stores that ever stood in a district or belonged to an owner, whichever is named.
///
/// # Errors
/// When the database cannot be reached.
pub async fn turns_of_stores(
    conn: &mut AsyncPgConnection,
    district: Option<&str>,
    owner: Option<&str>,
    until: BusinessDate,
    known_at: DateTime<Utc>,
) -> QueryResult<Vec<TurnRow>> {
    TurnsOfStores { district, owner, until: until.into(), known: known_at }.load(conn).await
}

statement!(TurnsOfStores<'a> {
    district: Option<&'a str> => Nullable<Text>,
    owner: Option<&'a str> => Nullable<Text>,
    until: NaiveDate => Date,
    known: DateTime<Utc> => Timestamptz,
} = "catalog/turns_of_stores.sql");

/// Which version of a document was in force.
#[derive(Debug, Clone, PartialEq, Eq, Queryable)]
pub struct InForceRow {
    /// The number of the version among all that are on record.
    pub id: i64,
    /// The kind's word.
    pub kind: String,
    /// The document's code.
    pub code: String,
    /// The first business date it holds for.
    pub valid_from: NaiveDate,
    /// When it was recorded.
    pub recorded_at: DateTime<Utc>,
}

/// The versions in force on a date as known at a moment, of documents that have one of these kinds
/// and one of these codes; not for stores.
///
/// # Errors
/// When the database cannot be reached.
pub async fn versions_of(
    conn: &mut AsyncPgConnection,
    kinds: &[&str],
    codes: &[&str],
    on: BusinessDate,
    known_at: DateTime<Utc>,
) -> QueryResult<Vec<InForceRow>> {
    versions::table
        .filter(versions::kind.eq_any(kinds))
        .filter(versions::code.eq_any(codes))
        .filter(versions::valid_from.le(NaiveDate::from(on)))
        .filter(versions::recorded_at.le(known_at))
        .distinct_on((versions::kind, versions::code))
        .order((
            versions::kind,
            versions::code,
            versions::valid_from.desc(),
            versions::recorded_at.desc(),
            versions::id.desc(),
        ))
        .select((
            versions::id,
            versions::kind,
            versions::code,
            versions::valid_from,
            versions::recorded_at,
        ))
        .load(conn)
        .await
}

/// The same of the districts that are named.
///
/// # Errors
/// When the database cannot be reached.
pub async fn district_turns(
    mut conn: &AsyncPgConnection,
    named: &[&str],
    until: BusinessDate,
    known_at: DateTime<Utc>,
) -> QueryResult<Vec<TurnRow>> {
    DistrictTurns { named, until: until.into(), known: known_at }.load(&mut conn).await
}

statement!(DistrictTurns<'a> {
    named: &'a [&'a str] => Array<Text>,
    until: NaiveDate => Date,
    known: DateTime<Utc> => Timestamptz,
} = "catalog/district_turns.sql");
