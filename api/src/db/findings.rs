//! What reviews found, and what managers said to it.

use chrono::{DateTime, NaiveDate, Utc};
use diesel::sql_types::{
    BigInt, Bool, Date, Double, Integer, Jsonb, Nullable, Text, Timestamptz, Uuid as SqlUuid,
};
use diesel::{QueryResult, QueryableByName};
use diesel_async::{AsyncPgConnection, RunQueryDsl};
use parings_core::calendar::{BusinessDate, DateSpan};
use serde::Serialize;
use serde_json::Value;
use uuid::Uuid;

use super::statement::statement;

statement!(ActForNightly {} = "SELECT act_for_nightly() IS NULL");

/// Takes the part that looks at the whole network by itself, until the transaction ends.
///
/// # Errors
/// When somebody acts.
pub async fn act_for_nightly(conn: &mut AsyncPgConnection) -> QueryResult<()> {
    ActForNightly::new().execute(conn).await.map(|_| ())
}

#[derive(QueryableByName)]
struct Locked {
    #[diesel(sql_type = Bool)]
    locked: bool,
}

statement!(TryLock {} = "SELECT pg_try_advisory_xact_lock(hashtext('parings nightly')) AS locked");

/// Whether no other server looks at this moment; holds until the transaction ends.
///
/// # Errors
/// When the database cannot be reached.
pub async fn try_lock(conn: &mut AsyncPgConnection) -> QueryResult<bool> {
    Ok(TryLock::new().get_result::<Locked>(conn).await?.locked)
}

#[derive(QueryableByName)]
struct Seen {
    #[diesel(sql_type = Text)]
    seen: String,
}

// A night that says something else is of another generation, and a diary may set nights aside.
statement!(SeenOf { from: NaiveDate, to: NaiveDate } =
    "SELECT md5(coalesce(string_agg(store_id || ' ' || business_date || ' ' || generation, ','
       ORDER BY store_id, business_date), '')
       || (SELECT count(*) FROM diary_entries) || ' ' || (SELECT count(*) FROM diary_withdrawals))
       AS seen
     FROM nights WHERE business_date BETWEEN ", from: Date, " AND ", to: Date, "");

/// A word for the tallies of a span as they are now: another once any of them is made anew.
///
/// # Errors
/// When the database cannot be reached.
pub async fn seen(conn: &mut AsyncPgConnection, span: DateSpan) -> QueryResult<String> {
    let seen = SeenOf::new(span.from().into(), span.to().into());
    Ok(seen.get_result::<Seen>(conn).await?.seen)
}

/// A review.
#[derive(Debug, Clone, QueryableByName)]
pub struct ReviewRow {
    /// When it was made.
    #[diesel(sql_type = Timestamptz)]
    pub made_at: DateTime<Utc>,
    /// Of what.
    #[diesel(sql_type = Text)]
    pub seen: String,
}

statement!(LastReview { zone: &'a str, as_of: NaiveDate } =
    "SELECT made_at, seen FROM reviews WHERE zone = ", zone: Text, " AND as_of = ", as_of: Date,
    " ORDER BY id DESC LIMIT 1");

/// The last review of a zone up to a night.
///
/// # Errors
/// When the database cannot be reached.
pub async fn last_review(
    conn: &mut AsyncPgConnection,
    zone: &str,
    as_of: BusinessDate,
) -> QueryResult<Option<ReviewRow>> {
    Ok(LastReview::new(zone, as_of.into()).load(conn).await?.pop())
}

#[derive(QueryableByName)]
struct Id {
    #[diesel(sql_type = BigInt)]
    id: i64,
}

statement!(AddReview { zone: &'a str, as_of: NaiveDate, at: DateTime<Utc>, seen: &'a str,
    stores: i32 } =
    "INSERT INTO reviews (zone, as_of, made_at, seen, stores) VALUES (", zone: Text, ", ",
    as_of: Date, ", ", at: Timestamptz, ", ", seen: Text, ", ", stores: Integer, ") RETURNING id");

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
    let stores = i32::try_from(stores).unwrap_or(i32::MAX);
    let add = AddReview::new(zone, as_of.into(), review.made_at, &review.seen, stores);
    Ok(add.get_result::<Id>(conn).await?.id)
}

/// A finding as it is kept.
#[derive(Debug, Clone, PartialEq, Serialize, QueryableByName)]
#[expect(missing_docs, reason = "the columns of the table")]
pub struct FindingRow {
    #[diesel(sql_type = Nullable<Text>)]
    pub store_id: Option<String>,
    #[diesel(sql_type = Text)]
    pub district_id: String,
    #[diesel(sql_type = Nullable<Text>)]
    pub owner_id: Option<String>,
    #[diesel(sql_type = Text)]
    pub measure: String,
    #[diesel(sql_type = Text)]
    pub kind: String,
    #[diesel(sql_type = Date)]
    pub since: NaiveDate,
    #[diesel(sql_type = Double)]
    pub size: f64,
    #[diesel(sql_type = Double)]
    pub size_low: f64,
    #[diesel(sql_type = Double)]
    pub size_high: f64,
    #[diesel(sql_type = Nullable<Double>)]
    pub money_per_week: Option<f64>,
    #[diesel(sql_type = Nullable<Integer>)]
    pub rank_low: Option<i32>,
    #[diesel(sql_type = Nullable<Integer>)]
    pub rank_high: Option<i32>,
    #[diesel(sql_type = Nullable<Integer>)]
    pub rank_of: Option<i32>,
    #[diesel(sql_type = Jsonb)]
    pub evidence: Value,
    #[diesel(sql_type = Text)]
    pub sentence: String,
    #[diesel(sql_type = Bool)]
    pub private: bool,
}

statement!(Add { review: i64, rows: &'a Value } =
    "INSERT INTO findings (review_id, store_id, district_id, owner_id, measure, kind, since, size,
       size_low, size_high, money_per_week, rank_low, rank_high, rank_of, evidence, sentence,
       private)
     SELECT ", review: BigInt, ", store_id, district_id, owner_id, measure, kind, since, size,
       size_low, size_high, money_per_week, rank_low, rank_high, rank_of, evidence, sentence,
       private
     FROM jsonb_populate_recordset(NULL::findings, ", rows: Jsonb, ")");

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
    Add::new(review, &rows).execute(conn).await.map(|_| ())
}

/// A finding that is told, with its review.
#[derive(Debug, Clone, PartialEq, QueryableByName)]
pub struct ToldRow {
    /// Its id.
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
    /// Of a district.
    pub district: Option<&'a str>,
    /// Of a store.
    pub store: Option<&'a str>,
    /// Of a kind.
    pub kind: Option<&'a str>,
}

statement!(List { until: NaiveDate, known: DateTime<Utc>, district: Option<&'a str>,
    store: Option<&'a str>, kind: Option<&'a str>, money: Option<f64>, id: Option<Uuid>,
    limit: i64 } =
    "SELECT f.id, r.as_of, r.made_at, f.store_id, f.district_id, f.owner_id, f.measure, f.kind,
       f.since, f.size, f.size_low, f.size_high, f.money_per_week, f.rank_low, f.rank_high,
       f.rank_of, f.evidence, f.sentence, f.private
     FROM findings f JOIN reviews r ON r.id = f.review_id,
       (SELECT ", district: Nullable<Text>, " AS district, ", store: Nullable<Text>, " AS store, ",
    kind: Nullable<Text>, " AS kind, ", money: Nullable<Double>, " AS money, ",
    id: Nullable<SqlUuid>, " AS id) AS asked
     WHERE f.review_id IN (SELECT reviews_in_force(", until: Date, ", ", known: Timestamptz, "))
       AND (asked.district IS NULL OR f.district_id = asked.district)
       AND (asked.store IS NULL OR f.store_id = asked.store)
       AND (asked.kind IS NULL OR f.kind = asked.kind)
       AND (asked.id IS NULL
         OR (coalesce(-f.money_per_week, 'infinity'), f.id) > (asked.money, asked.id))
     ORDER BY coalesce(-f.money_per_week, 'infinity'), f.id LIMIT ", limit: BigInt, "");

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
    List::new(until.into(), known, district, store, kind, money, id, limit).load(conn).await
}

statement!(One { id: Uuid } =
    "SELECT f.id, r.as_of, r.made_at, f.store_id, f.district_id, f.owner_id, f.measure, f.kind,
       f.since, f.size, f.size_low, f.size_high, f.money_per_week, f.rank_low, f.rank_high,
       f.rank_of, f.evidence, f.sentence, f.private
     FROM findings f JOIN reviews r ON r.id = f.review_id WHERE f.id = ", id: SqlUuid, "");

/// A finding by its id.
///
/// # Errors
/// When the database cannot be reached.
pub async fn one(conn: &mut AsyncPgConnection, id: Uuid) -> QueryResult<Option<ToldRow>> {
    Ok(One::new(id).load(conn).await?.pop())
}

/// What a manager said.
#[derive(Debug, Clone, PartialEq, QueryableByName)]
pub struct AnswerRow {
    /// About which store.
    #[diesel(sql_type = Text)]
    pub store_id: String,
    /// About what.
    #[diesel(sql_type = Text)]
    pub measure: String,
    /// In what way.
    #[diesel(sql_type = Text)]
    pub kind: String,
    /// Since when.
    #[diesel(sql_type = Date)]
    pub since: NaiveDate,
    /// What was said.
    #[diesel(sql_type = Text)]
    pub said: String,
    /// By whom.
    #[diesel(sql_type = SqlUuid)]
    pub said_by: Uuid,
    /// When.
    #[diesel(sql_type = Timestamptz)]
    pub said_at: DateTime<Utc>,
}

statement!(Answer { store: &'a str, district: &'a str, owner: &'a str, measure: &'a str,
    kind: &'a str, since: NaiveDate, said: &'a str, by: Uuid, at: DateTime<Utc> } =
    "INSERT INTO finding_answers (store_id, district_id, owner_id, measure, kind, since, said,
       said_by, said_at) VALUES (", store: Text, ", ", district: Text, ", ", owner: Text, ", ",
    measure: Text, ", ", kind: Text, ", ", since: Date, ", ", said: Text, ", ", by: SqlUuid, ", ",
    at: Timestamptz, ")");

/// Adds what a manager says, where the store stands in a district and belongs to an owner.
///
/// # Errors
/// When the acting person may not.
pub async fn answer(
    conn: &mut AsyncPgConnection,
    (district, owner): (&str, &str),
    row: &AnswerRow,
) -> QueryResult<()> {
    let AnswerRow { store_id, measure, kind, since, said, said_by, said_at } = row;
    let add =
        Answer::new(store_id, district, owner, measure, kind, *since, said, *said_by, *said_at);
    add.execute(conn).await.map(|_| ())
}

statement!(Answers { stores: &'a [&'a str], since: NaiveDate } =
    "SELECT store_id, measure, kind, since, said, said_by, said_at FROM finding_answers
     WHERE store_id = ANY (", stores: diesel::sql_types::Array<Text>, ") AND since >= ",
    since: Date, " ORDER BY id");

/// What was said about stores to what began on a date or later, in the order it was said in.
///
/// # Errors
/// When the database cannot be reached.
pub async fn answers(
    conn: &mut AsyncPgConnection,
    stores: &[&str],
    since: NaiveDate,
) -> QueryResult<Vec<AnswerRow>> {
    Answers::new(stores, since).load(conn).await
}
