//! Sessions on record, as sign-ins leave them.

use chrono::{DateTime, Utc};
use parings::edge::new_id;
use parings_core::ids::PersonId;
use tokio_postgres::{Client, Error};
use uuid::Uuid;

/// Puts a session of a person on record, and answers with its id. Nobody has its refresh token.
///
/// # Errors
/// When the database cannot be reached.
pub async fn begin(pg: &Client, person: PersonId, at: DateTime<Utc>) -> Result<Uuid, Error> {
    let session = new_id();
    let sql = "INSERT INTO refresh_tokens (hash, family, person_id, issued_at, expires_at)
        VALUES (uuid_send($1), $1, $2, $3::timestamptz, $3::timestamptz + interval '14 days')";
    pg.execute(sql, &[&session, &person.0, &at]).await.map(|_| session)
}
