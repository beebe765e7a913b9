//! Who did what that matters. Rows are added in the transaction of what they tell about.

use chrono::{DateTime, Utc};
use diesel::{ExpressionMethods, QueryResult, insert_into};
use diesel_async::{AsyncPgConnection, RunQueryDsl};
use parings_core::ids::StoreId;
use serde_json::Value;
use uuid::Uuid;

use crate::context::Ctx;
use crate::db::schema::audit;

/// Notes what the acting person did to `target` (in words, such as `store mill`); with `store`, the
/// manager of that store sees the row too.
///
/// # Errors
/// When the database cannot be reached.
pub async fn add(
    conn: &mut AsyncPgConnection,
    ctx: &Ctx,
    action: &str,
    target: &str,
    store: Option<&StoreId>,
    detail: Option<Value>,
) -> QueryResult<()> {
    let person = Some(ctx.actor.person.0);
    let store = store.map(StoreId::as_str);
    insert(conn, ctx.now, person, action, target, &ctx.request_id, store, detail).await
}

/// Notes what happened while nobody was acting: a sign-in that failed, a command of the operator.
///
/// # Errors
/// When the database cannot be reached.
pub async fn add_of_nobody(
    conn: &mut AsyncPgConnection,
    at: DateTime<Utc>,
    request_id: &str,
    action: &str,
    target: &str,
    detail: Option<Value>,
) -> QueryResult<()> {
    insert(conn, at, None, action, target, request_id, None, detail).await
}

/// Notes what the clock did to a night of a store.
///
/// # Errors
/// When the database cannot be reached.
pub async fn add_of_clock(
    conn: &mut AsyncPgConnection,
    at: DateTime<Utc>,
    action: &str,
    target: &str,
    store: &StoreId,
    detail: Value,
) -> QueryResult<()> {
    insert(conn, at, None, action, target, "clock", Some(store.as_str()), Some(detail)).await
}

#[expect(clippy::too_many_arguments, reason = "one for each column")]
async fn insert(
    conn: &mut AsyncPgConnection,
    at: DateTime<Utc>,
    person: Option<Uuid>,
    action: &str,
    target: &str,
    request_id: &str,
    store: Option<&str>,
    detail: Option<Value>,
) -> QueryResult<()> {
    // A tuple, because its statement is prepared once and kept.
    insert_into(audit::table)
        .values((
            audit::at.eq(at),
            audit::person_id.eq(person),
            audit::action.eq(action),
            audit::target.eq(target),
            audit::request_id.eq(request_id),
            audit::store_id.eq(store),
            audit::detail.eq(detail),
        ))
        .execute(conn)
        .await
        .map(|_| ())
}
