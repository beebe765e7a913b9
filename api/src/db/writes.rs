//! Writes under their clients' ids, kept for ever.

use chrono::{DateTime, Utc};
use diesel::prelude::*;
use diesel_async::{AsyncPgConnection, RunQueryDsl};
use parings_core::ids::{PersonId, WriteId};
use serde_json::Value;

use crate::db::schema::{pg_advisory_xact_lock, writes};

/// A write as it was answered.
#[derive(Queryable, Selectable)]
#[diesel(table_name = writes)]
pub struct WriteRow {
    /// What was asked for, as `PUT /v1/…`.
    pub operation: String,
    /// SHA-256 of what was sent.
    pub content_hash: Vec<u8>,
    /// The status of the answer.
    pub status: i16,
    /// The ETag of the answer.
    pub etag: Option<String>,
    /// The body of the answer.
    pub response: Value,
}

/// Waits until no other transaction works under this id, and keeps it to this one until its end.
///
/// # Errors
/// When the lock does not come in time.
pub async fn lock(conn: &mut AsyncPgConnection, id: WriteId) -> QueryResult<()> {
    let (high, low) = id.0.as_u64_pair();
    let key = i64::from_ne_bytes((high ^ low).to_ne_bytes());
    diesel::select(pg_advisory_xact_lock(key)).execute(conn).await.map(|_| ())
}

/// The acting person's write of this id. Other people's are not seen.
///
/// # Errors
/// When the database cannot be reached.
pub async fn find(conn: &mut AsyncPgConnection, id: WriteId) -> QueryResult<Option<WriteRow>> {
    writes::table.find(id.0).select(WriteRow::as_select()).first(conn).await.optional()
}

/// Keeps a write and its answer.
///
/// # Errors
/// A violation of `writes_pkey` when somebody else used the id.
pub async fn add(
    conn: &mut AsyncPgConnection,
    id: WriteId,
    person: PersonId,
    at: DateTime<Utc>,
    row: &WriteRow,
) -> QueryResult<()> {
    diesel::insert_into(writes::table)
        .values((
            writes::id.eq(id.0),
            writes::person_id.eq(person.0),
            writes::operation.eq(&row.operation),
            writes::content_hash.eq(&row.content_hash),
            writes::status.eq(row.status),
            writes::etag.eq(row.etag.as_deref()),
            writes::response.eq(&row.response),
            writes::recorded_at.eq(at),
        ))
        .execute(conn)
        .await
        .map(|_| ())
}
