//! Who did what that matters. Rows are added in the transaction of what they tell about.

use chrono::{DateTime, Utc};
use diesel::prelude::*;
use diesel::{QueryResult, insert_into};
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

/// A row of the audit.
#[derive(Debug, Clone, Queryable, Selectable)]
#[diesel(table_name = audit)]
#[expect(missing_docs, reason = "the columns of the table")]
pub struct AuditRow {
    pub id: i64,
    pub at: DateTime<Utc>,
    pub person_id: Option<Uuid>,
    pub action: String,
    pub target: String,
    pub request_id: String,
    pub store_id: Option<String>,
    pub detail: Option<Value>,
}

/// Which rows are asked for.
#[derive(Debug, Clone, Copy, Default)]
pub struct Which<'a> {
    /// Only what concerns this store.
    pub store: Option<&'a str>,
    /// Only what this account did.
    pub person: Option<Uuid>,
    /// Only what is noted in these words.
    pub action: Option<&'a str>,
    /// From this moment on.
    pub since: Option<DateTime<Utc>>,
    /// Before this moment.
    pub until: Option<DateTime<Utc>>,
}

/// The rows that the acting person may see, newest first, from before `before` on.
///
/// # Errors
/// When the database cannot be reached.
pub async fn list(
    conn: &mut AsyncPgConnection,
    which: Which<'_>,
    before: Option<(DateTime<Utc>, i64)>,
    limit: usize,
) -> QueryResult<Vec<AuditRow>> {
    let mut rows = audit::table.into_boxed();
    if let Some(store) = which.store {
        rows = rows.filter(audit::store_id.eq(store));
    }
    if let Some(person) = which.person {
        rows = rows.filter(audit::person_id.eq(person));
    }
    if let Some(action) = which.action {
        rows = rows.filter(audit::action.eq(action));
    }
    if let Some(since) = which.since {
        rows = rows.filter(audit::at.ge(since));
    }
    if let Some(until) = which.until {
        rows = rows.filter(audit::at.lt(until));
    }
    if let Some((at, id)) = before {
        rows = rows.filter(audit::at.lt(at).or(audit::at.eq(at).and(audit::id.lt(id))));
    }
    rows.order((audit::at.desc(), audit::id.desc()))
        .limit(i64::try_from(limit).unwrap_or(i64::MAX))
        .select(AuditRow::as_select())
        .load(conn)
        .await
}
