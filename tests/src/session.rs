//! Sessions on record, as sign-ins leave them.

use chrono::{DateTime, Utc};
use parings_core::ids::PersonId;
use tokio_postgres::{Client, Error};
use uuid::Uuid;

/// Puts a session of a person on record. Nobody has its refresh token.
///
/// # Errors
/// When the database cannot be reached.
pub async fn begin(
    pg: &Client,
    session: Uuid,
    person: PersonId,
    at: DateTime<Utc>,
) -> Result<(), Error> {
    let sql = "INSERT INTO refresh_tokens (hash, family, person_id, issued_at, expires_at)
        VALUES (uuid_send($1), $1, $2, $3::timestamptz, $3::timestamptz + interval '14 days')";
    pg.execute(sql, &[&session, &person.0, &at]).await.map(|_| ())
}
