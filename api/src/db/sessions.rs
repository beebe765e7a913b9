//! Sessions, through the functions of the sign-in role: hashes cannot be read otherwise.

use chrono::{DateTime, TimeDelta, Utc};
use diesel::prelude::*;
use diesel::sql_types::{Bool, Bytea, Interval, Nullable, Text, Timestamptz, Uuid as SqlUuid};
use diesel_async::{AsyncPgConnection, RunQueryDsl};
use parings_core::ids::PersonId;
use uuid::Uuid;

/// The account of an e-mail address.
#[derive(QueryableByName)]
pub struct AccountRow {
    /// Whose it is.
    #[diesel(sql_type = SqlUuid)]
    pub id: Uuid,
    /// What the password is compared with; none before one was set.
    #[diesel(sql_type = Nullable<Text>)]
    pub password_hash: Option<String>,
    /// Whether the account is disabled.
    #[diesel(sql_type = Bool)]
    pub disabled: bool,
}

/// What became of a refresh token.
#[derive(QueryableByName)]
pub struct RefreshRow {
    /// `fresh`, `resent`, `reused`, `expired`, `ended` or `unknown`.
    #[diesel(sql_type = Text)]
    pub outcome: String,
    /// Whose it is.
    #[diesel(sql_type = Nullable<SqlUuid>)]
    pub person_id: Option<Uuid>,
    /// The session it belongs to.
    #[diesel(sql_type = Nullable<SqlUuid>)]
    pub session: Option<Uuid>,
}

/// A session that was ended.
#[derive(QueryableByName)]
pub struct EndedRow {
    /// Whose it was.
    #[diesel(sql_type = SqlUuid)]
    pub person_id: Uuid,
    /// The session.
    #[diesel(sql_type = SqlUuid)]
    pub session: Uuid,
}

#[derive(QueryableByName)]
struct Held {
    #[diesel(sql_type = Bool)]
    held: bool,
}

/// The account of an e-mail address in lower case.
///
/// # Errors
/// When the database cannot be reached.
pub async fn account_of(
    conn: &mut AsyncPgConnection,
    email: &str,
) -> QueryResult<Option<AccountRow>> {
    diesel::sql_query("SELECT id, password_hash, disabled FROM account_of($1)")
        .bind::<Text, _>(email)
        .get_result(conn)
        .await
        .optional()
}

/// Whether a service that is not disabled has the secret of this SHA-256.
///
/// # Errors
/// When the database cannot be reached.
pub async fn service_has_secret(
    conn: &mut AsyncPgConnection,
    service: PersonId,
    hash: &[u8],
) -> QueryResult<bool> {
    diesel::sql_query("SELECT service_has_secret($1, $2) AS held")
        .bind::<SqlUuid, _>(service.0)
        .bind::<Bytea, _>(hash)
        .get_result::<Held>(conn)
        .await
        .map(|row| row.held)
}

/// A session to start.
pub struct NewSession<'a> {
    /// Whose.
    pub person: PersonId,
    /// The password hash that was verified.
    pub verified: &'a str,
    /// The session.
    pub session: Uuid,
    /// SHA-256 of its first refresh token.
    pub hash: &'a [u8],
    /// Now.
    pub at: DateTime<Utc>,
    /// When that token expires.
    pub until: DateTime<Utc>,
}

/// Starts a session; false when the account changed while its password was being verified.
///
/// # Errors
/// When the database cannot be reached.
pub async fn start(conn: &mut AsyncPgConnection, new: &NewSession<'_>) -> QueryResult<bool> {
    diesel::sql_query("SELECT start_session($1, $2, $3, $4, $5, $6) AS held")
        .bind::<SqlUuid, _>(new.person.0)
        .bind::<Text, _>(new.verified)
        .bind::<SqlUuid, _>(new.session)
        .bind::<Bytea, _>(new.hash)
        .bind::<Timestamptz, _>(new.at)
        .bind::<Timestamptz, _>(new.until)
        .get_result::<Held>(conn)
        .await
        .map(|row| row.held)
}

/// Spends a refresh token (by its SHA-256) for its successor.
///
/// # Errors
/// When the database cannot be reached.
pub async fn refresh(
    conn: &mut AsyncPgConnection,
    token: &[u8],
    successor: &[u8],
    at: DateTime<Utc>,
    until: DateTime<Utc>,
    resend_window: TimeDelta,
) -> QueryResult<RefreshRow> {
    diesel::sql_query("SELECT outcome, person_id, session FROM refresh_session($1, $2, $3, $4, $5)")
        .bind::<Bytea, _>(token)
        .bind::<Bytea, _>(successor)
        .bind::<Timestamptz, _>(at)
        .bind::<Timestamptz, _>(until)
        .bind::<Interval, _>(resend_window)
        .get_result(conn)
        .await
}

/// Ends the session of a refresh token (by its SHA-256), if there is one.
///
/// # Errors
/// When the database cannot be reached.
pub async fn end(
    conn: &mut AsyncPgConnection,
    token: &[u8],
    at: DateTime<Utc>,
) -> QueryResult<Option<EndedRow>> {
    diesel::sql_query("SELECT person_id, session FROM end_session($1, $2)")
        .bind::<Bytea, _>(token)
        .bind::<Timestamptz, _>(at)
        .get_result(conn)
        .await
        .optional()
}

/// Ends a session of the acting person.
///
/// # Errors
/// When the database cannot be reached.
pub async fn end_own(
    conn: &mut AsyncPgConnection,
    session: Uuid,
    at: DateTime<Utc>,
) -> QueryResult<()> {
    diesel::sql_query("SELECT end_own_session($1, $2)")
        .bind::<SqlUuid, _>(session)
        .bind::<Timestamptz, _>(at)
        .execute(conn)
        .await
        .map(|_| ())
}

/// Ends every session of a person; `why` is `disabled` or `reset`.
///
/// # Errors
/// When neither head office acts nor the owner's role asks.
pub async fn end_all_of(
    conn: &mut AsyncPgConnection,
    person: PersonId,
    at: DateTime<Utc>,
    why: &str,
) -> QueryResult<()> {
    diesel::sql_query("SELECT end_sessions_of($1, $2, $3)")
        .bind::<SqlUuid, _>(person.0)
        .bind::<Timestamptz, _>(at)
        .bind::<Text, _>(why)
        .execute(conn)
        .await
        .map(|_| ())
}
