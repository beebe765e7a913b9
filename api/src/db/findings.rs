//! What reviews found, and what managers said to it.

use chrono::{DateTime, NaiveDate, Utc};
use diesel::prelude::*;
use diesel::sql_types::{
    BigInt, Bool, Date, Double, Jsonb, Nullable, Text, Timestamptz, Uuid as SqlUuid,
};
use diesel_async::{AsyncPgConnection, RunQueryDsl};
use parings_core::calendar::{BusinessDate, DateSpan};
use serde::Serialize;
use serde_json::Value;
use uuid::Uuid;

use super::schema::{finding_answers, findings, reviews};
use super::statement::statement;

statement!(ActForNightly {} = "findings/act_for_nightly.sql");

/// Takes the part that looks at the whole network by itself, until the transaction ends.
///
/// # Errors
/// When somebody acts.
pub async fn act_for_nightly(conn: &mut AsyncPgConnection) -> QueryResult<()> {
    ActForNightly {}.execute(conn).await.map(|_| ())
}

#[derive(QueryableByName)]
struct Locked {
    #[diesel(sql_type = Bool)]
    locked: bool,
}

statement!(TryLock {} = "findings/try_lock.sql");

/// Whether no other server looks at this moment; holds until the transaction ends.
///
/// # Errors
/// When the database cannot be reached.
pub async fn try_lock(conn: &mut AsyncPgConnection) -> QueryResult<bool> {
    Ok(TryLock {}.get_result::<Locked>(conn).await?.locked)
}

#[derive(QueryableByName)]
struct SeenRow {
    #[diesel(sql_type = Text)]
    seen: String,
}

statement!(Seen { from: NaiveDate => Date, to: NaiveDate => Date } = "findings/seen.sql");

/// A word for the tallies of a span as they are now: another once any of them is made anew.
///
/// # Errors
/// When the database cannot be reached.
pub async fn seen(conn: &mut AsyncPgConnection, span: DateSpan) -> QueryResult<String> {
    let seen = Seen { from: span.from().into(), to: span.to().into() };
    Ok(seen.get_result::<SeenRow>(conn).await?.seen)
}

/// When a review was made, and of what.
#[derive(Debug, Clone, Queryable, Selectable)]
#[diesel(table_name = reviews)]
pub struct ReviewRow {
    /// When it was made.
    pub made_at: DateTime<Utc>,
    /// The word for the tallies that it looked at, as [`seen`] says it.
    pub seen: String,
}

/// The last review of a zone up to a night.
///
/// # Errors
/// When the database cannot be reached.
pub async fn last_review(
    conn: &mut AsyncPgConnection,
    zone: &str,
    as_of: BusinessDate,
) -> QueryResult<Option<ReviewRow>> {
    reviews::table
        .filter(reviews::zone.eq(zone))
        .filter(reviews::as_of.eq(NaiveDate::from(as_of)))
        .order(reviews::id.desc())
        .select(ReviewRow::as_select())
        .first(conn)
        .await
        .optional()
}

/// Adds a review; answers with its id.
///
/// # Errors
/// When the acting part may not.
pub async fn add_review(
    conn: &mut AsyncPgConnection,
    zone: &str,
    as_of: BusinessDate,
    review: &ReviewRow,
    stores: usize,
) -> QueryResult<i64> {
    diesel::insert_into(reviews::table)
        .values((
            reviews::zone.eq(zone),
            reviews::as_of.eq(NaiveDate::from(as_of)),
            reviews::made_at.eq(review.made_at),
            reviews::seen.eq(&review.seen),
            reviews::stores.eq(i32::try_from(stores).unwrap_or(i32::MAX)),
        ))
        .returning(reviews::id)
        .get_result(conn)
        .await
}

/// A finding as it is kept.
#[derive(Debug, Clone, PartialEq, Serialize, QueryableByName)]
#[diesel(table_name = findings)]
#[expect(missing_docs, reason = "the columns of the table")]
pub struct FindingRow {
    pub store_id: Option<String>,
    pub district_id: String,
    pub owner_id: Option<String>,
    pub measure: String,
    pub kind: String,
    pub since: NaiveDate,
    pub size: f64,
    pub size_low: f64,
    pub size_high: f64,
    pub money_per_week: Option<f64>,
    pub rank_low: Option<i32>,
    pub rank_high: Option<i32>,
    pub rank_of: Option<i32>,
    pub evidence: Value,
    pub sentence: String,
    pub private: bool,
}

statement!(Add<'a> { review: i64 => BigInt, rows: &'a Value => Jsonb } = "findings/add.sql");

/// Adds what a review found.
///
/// # Errors
/// When the acting part may not.
pub async fn add(
    conn: &mut AsyncPgConnection,
    review: i64,
    found: &[FindingRow],
) -> QueryResult<()> {
    let rows = serde_json::to_value(found)
        .map_err(|e| diesel::result::Error::SerializationError(Box::new(e)))?;
    Add { review, rows: &rows }.execute(conn).await.map(|_| ())
}

/// A finding that is told, with its review.
#[derive(Debug, Clone, PartialEq, QueryableByName)]
pub struct ToldRow {
    /// The id of the finding.
    #[diesel(sql_type = SqlUuid)]
    pub id: Uuid,
    /// The last night looked at.
    #[diesel(sql_type = Date)]
    pub as_of: NaiveDate,
    /// When the review was made.
    #[diesel(sql_type = Timestamptz)]
    pub made_at: DateTime<Utc>,
    /// What was found.
    #[diesel(embed)]
    pub found: FindingRow,
}

/// Which findings are asked for.
#[derive(Debug, Clone, Copy, Default)]
pub struct Which<'a> {
    /// Only findings of this district.
    pub district: Option<&'a str>,
    /// Only findings of this store.
    pub store: Option<&'a str>,
    /// Only findings of this kind.
    pub kind: Option<&'a str>,
}

statement!(List<'a> {
    until: NaiveDate => Date,
    known: DateTime<Utc> => Timestamptz,
    district: Option<&'a str> => Nullable<Text>,
    store: Option<&'a str> => Nullable<Text>,
    kind: Option<&'a str> => Nullable<Text>,
    money: Option<f64> => Nullable<Double>,
    id: Option<Uuid> => Nullable<SqlUuid>,
    limit: i64 => BigInt,
} = "findings/list.sql");

/// What the reviews that held at a moment, up to a night, found: most money a week first, what has no
/// price last, from after a key on.
///
/// # Errors
/// When the database cannot be reached.
pub async fn list(
    conn: &mut AsyncPgConnection,
    (until, known): (BusinessDate, DateTime<Utc>),
    which: Which<'_>,
    after: Option<(Option<f64>, Uuid)>,
    limit: i64,
) -> QueryResult<Vec<ToldRow>> {
    let Which { district, store, kind } = which;
    let money = after.map(|(money, _)| money.map_or(f64::INFINITY, |money| -money));
    let id = after.map(|(_, id)| id);
    List { until: until.into(), known, district, store, kind, money, id, limit }.load(conn).await
}

statement!(One { id: Uuid => SqlUuid } = "findings/one.sql");

/// A finding by its id.
///
/// # Errors
/// When the database cannot be reached.
pub async fn one(conn: &mut AsyncPgConnection, id: Uuid) -> QueryResult<Option<ToldRow>> {
    Ok(One { id }.load(conn).await?.pop())
}

/// What a manager said.
#[derive(Debug, Clone, PartialEq, Queryable, Selectable, Insertable)]
#[diesel(table_name = finding_answers)]
pub struct AnswerRow {
    /// The code of the store that it was said about.
    pub store_id: String,
    /// The word of the measure that the finding is about.
    pub measure: String,
    /// The word of the kind of finding.
    pub kind: String,
    /// The night that what was found is estimated to have begun.
    pub since: NaiveDate,
    /// What the manager said, in words.
    pub said: String,
    /// The account of the manager.
    pub said_by: Uuid,
    /// When it was said.
    pub said_at: DateTime<Utc>,
}

/// Adds what a manager says, where the store stands in a district and belongs to an owner.
///
/// # Errors
/// When the acting person may not.
pub async fn answer(
    conn: &mut AsyncPgConnection,
    (district, owner): (&str, &str),
    row: &AnswerRow,
) -> QueryResult<()> {
    let place = (finding_answers::district_id.eq(district), finding_answers::owner_id.eq(owner));
    let add = diesel::insert_into(finding_answers::table).values((row, place));
    add.execute(conn).await.map(|_| ())
}

/// What was said about stores to what began on a date or later, in the order it was said in.
///
/// # Errors
/// When the database cannot be reached.
pub async fn answers(
    conn: &mut AsyncPgConnection,
    stores: &[&str],
    since: NaiveDate,
) -> QueryResult<Vec<AnswerRow>> {
    finding_answers::table
        .filter(finding_answers::store_id.eq_any(stores))
        .filter(finding_answers::since.ge(since))
        .order(finding_answers::id)
        .select(AnswerRow::as_select())
        .load(conn)
        .await
}
