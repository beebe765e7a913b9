//! Writes under their clients' ids, kept for ever.

use chrono::{DateTime, Utc};
use diesel::sql_types::{Bytea, Nullable, SmallInt, Text, Timestamptz, Uuid as SqlUuid};
use diesel::{QueryResult, QueryableByName};
use diesel_async::{AsyncPgConnection, RunQueryDsl};
use parings_core::ids::{PersonId, WriteId};
use uuid::Uuid;

use super::statement::statement;
use crate::db::functions::pg_advisory_xact_lock;

/// A write as it was answered.
#[derive(QueryableByName)]
pub struct WriteRow {
    /// What was asked for, as `PUT /v1/…`.
    #[diesel(sql_type = Text)]
    pub operation: String,
    /// SHA-256 of what was sent.
    #[diesel(sql_type = Bytea)]
    pub content_hash: Vec<u8>,
    /// The status of the answer.
    #[diesel(sql_type = SmallInt)]
    pub status: i16,
    /// The ETag of the answer.
    #[diesel(sql_type = Nullable<Text>)]
    pub etag: Option<String>,
    /// The body of the answer, which is JSON.
    #[diesel(sql_type = Text)]
    pub response: String,
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

statement!(Find { id: Uuid => SqlUuid } = "writes/find.sql");

/// The acting person's write of this id. Other people's are not seen.
///
/// # Errors
/// When the database cannot be reached.
pub async fn find(conn: &mut AsyncPgConnection, id: WriteId) -> QueryResult<Option<WriteRow>> {
    let found: Vec<WriteRow> = Find { id: id.0 }.load(conn).await?;
    Ok(found.into_iter().next())
}

statement!(Add<'a> {
    id: Uuid => SqlUuid,
    person: Uuid => SqlUuid,
    operation: &'a str => Text,
    hash: &'a [u8] => Bytea,
    status: i16 => SmallInt,
    etag: Option<&'a str> => Nullable<Text>,
    response: &'a str => Text,
    at: DateTime<Utc> => Timestamptz,
} = "writes/add.sql");

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
    let WriteRow { operation, content_hash, status, etag, response } = row;
    let etag = etag.as_deref();
    Add {
        id: id.0,
        person: person.0,
        operation,
        hash: content_hash,
        status: *status,
        etag,
        response,
        at,
    }
    .execute(conn)
    .await
    .map(|_| ())
}
