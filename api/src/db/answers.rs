//! Answers to what was asked about counts.

use chrono::{DateTime, NaiveDate, Utc};
use diesel::sql_types::{BigInt, Date, Text};
use diesel::{ExpressionMethods, QueryResult, QueryableByName};
use diesel_async::{AsyncPgConnection, RunQueryDsl};
use parings_core::access::Standing;
use parings_core::calendar::BusinessDate;
use parings_core::ids::{PersonId, WriteId};
use serde_json::Value;

use super::schema::night_answers;
use super::statement::statement;

/// An answer to add.
#[derive(Debug, Clone)]
pub struct NewAnswer<'a> {
    /// The number of the revision that it is about.
    pub revision: i32,
    /// The check's id.
    pub check: &'a str,
    /// What was answered.
    pub answer: &'a Value,
    /// The account that answered.
    pub by: PersonId,
    /// When it was answered.
    pub at: DateTime<Utc>,
    /// The write it comes with.
    pub write: WriteId,
}

/// Keeps an answer.
///
/// # Errors
/// When the acting person may not, or the check was answered.
pub async fn add(
    conn: &mut AsyncPgConnection,
    standing: &Standing,
    date: BusinessDate,
    new: &NewAnswer<'_>,
) -> QueryResult<()> {
    diesel::insert_into(night_answers::table)
        .values((
            night_answers::business_date.eq(NaiveDate::from(date)),
            night_answers::store_id.eq(standing.store.as_str()),
            night_answers::revision.eq(new.revision),
            night_answers::check_id.eq(new.check),
            night_answers::answer.eq(new.answer),
            night_answers::district_id.eq(standing.district.as_str()),
            night_answers::region_id.eq(standing.region.as_str()),
            night_answers::owner_id.eq(standing.owner.as_str()),
            night_answers::answered_by.eq(new.by.0),
            night_answers::recorded_at.eq(new.at),
            night_answers::write_id.eq(new.write.0),
        ))
        .execute(conn)
        .await
        .map(|_| ())
}

/// How often a question was answered *it is right*.
#[derive(Debug, Clone, QueryableByName)]
pub struct RepeatedRow {
    /// The kind's word.
    #[diesel(sql_type = Text)]
    pub kind: String,
    /// The item's code; empty for the night as a whole.
    #[diesel(sql_type = Text)]
    pub item: String,
    /// The code of the store that answered.
    #[diesel(sql_type = Text)]
    pub store_id: String,
    /// How often it was answered so.
    #[diesel(sql_type = BigInt)]
    pub times: i64,
    /// On which date first.
    #[diesel(sql_type = Date)]
    pub since: NaiveDate,
    /// On which date last.
    #[diesel(sql_type = Date)]
    pub last: NaiveDate,
}

statement!(Repeated {
    from: NaiveDate => Date,
    to: NaiveDate => Date,
    least: i64 => BigInt,
} = "answers/repeated.sql");

/// Which questions were answered *it is right* on at least so many nights of a store between two
/// dates. A recount that came out otherwise is not such an answer.
///
/// # Errors
/// When the database cannot be reached.
pub async fn repeated(
    conn: &mut AsyncPgConnection,
    from: BusinessDate,
    to: BusinessDate,
    least: i64,
) -> QueryResult<Vec<RepeatedRow>> {
    Repeated { from: from.into(), to: to.into(), least }.load(conn).await
}
