//! Taking the part of a person: the first statement of every transaction. It notes when the transaction
//! began, as a lock that anybody may hold and everybody sees, so that who asks what was known at a moment
//! is told of none by which something is still on its way.

use chrono::{DateTime, Utc};
use diesel::sql_types::{Array, BigInt, Integer, Nullable, Text, Uuid as SqlUuid};
use diesel::{QueryResult, QueryableByName};
use diesel_async::{AsyncPgConnection, RunQueryDsl};
use parings_core::ids::{PersonId, StoreId};
use uuid::Uuid;

use super::statement::statement;

/// A person or service as the records have them at this moment.
#[derive(QueryableByName)]
pub struct ActingRow {
    /// Their name, as colleagues are told it.
    #[diesel(sql_type = Text)]
    pub name: String,
    /// Their role's word.
    #[diesel(sql_type = Text)]
    pub role: String,
    /// The codes of their places.
    #[diesel(sql_type = Array<Text>)]
    pub places: Vec<String>,
}

/// The first half of the locks that say when transactions began; the second half is when.
const BEGAN: i32 = 0x0be_9a11;

/// Seconds of 2020 that moments are counted from, so that they fit into half a lock until 2088.
const EPOCH: i64 = 1_577_836_800;

fn second(moment: DateTime<Utc>) -> i32 {
    i32::try_from(moment.timestamp() - EPOCH).unwrap_or_default()
}

statement!(ActAs {
    person: Uuid => SqlUuid,
    session: Option<Uuid> => Nullable<SqlUuid>,
    began: i32 => Integer,
    second: i32 => Integer,
} = "acting/act_as.sql");

/// Acts as `person` until the transaction ends; `None` when unknown or disabled, or when their
/// `session` has ended (a service has none). What is recorded from here on bears no moment before
/// `began`.
///
/// # Errors
/// When the database cannot be reached.
pub async fn act_as(
    conn: &mut AsyncPgConnection,
    person: PersonId,
    session: Option<Uuid>,
    began: DateTime<Utc>,
) -> QueryResult<Option<ActingRow>> {
    let acting = ActAs { person: person.0, session, began: BEGAN, second: second(began) };
    let found: Vec<ActingRow> = acting.load(conn).await?;
    Ok(found.into_iter().next())
}

statement!(ActForRules<'a> { store: &'a str => Text } = "acting/act_for_rules.sql");

/// Hands over to the rules for one store, until the transaction ends: facts are saved, and what
/// they add up to is derived by nobody in particular.
///
/// # Errors
/// When the acting person may not write to the store.
pub async fn act_for_rules(conn: &mut AsyncPgConnection, store: &StoreId) -> QueryResult<()> {
    ActForRules { store: store.as_str() }.execute(conn).await.map(|_| ())
}

statement!(ActAtOpening<'a> {
    store: &'a str => Text,
    began: i32 => Integer,
    second: i32 => Integer,
} = "acting/act_at_opening.sql");

/// Takes the part of the rules for one store while nobody acts, until the transaction ends: what
/// waited until the next opening is settled by the clock. What is recorded from here on bears no moment
/// before `began`.
///
/// # Errors
/// When somebody acts.
pub async fn act_at_opening(
    conn: &mut AsyncPgConnection,
    store: &StoreId,
    began: DateTime<Utc>,
) -> QueryResult<()> {
    let acting = ActAtOpening { store: store.as_str(), began: BEGAN, second: second(began) };
    acting.execute(conn).await.map(|_| ())
}

#[derive(QueryableByName)]
struct UnfinishedRow {
    #[diesel(sql_type = Nullable<BigInt>)]
    second: Option<i64>,
}

statement!(OldestUnfinished { began: i64 => BigInt } = "acting/oldest_unfinished.sql");

/// Before this moment began, to the second, none of the transactions that act now; none when there are
/// no others. What has been recorded with an earlier moment is there to be read.
///
/// # Errors
/// When the database cannot be reached.
pub async fn oldest_unfinished(conn: &mut AsyncPgConnection) -> QueryResult<Option<DateTime<Utc>>> {
    let found: UnfinishedRow = OldestUnfinished { began: BEGAN.into() }.get_result(conn).await?;
    Ok(found.second.and_then(|second| DateTime::from_timestamp(EPOCH + second, 0)))
}
