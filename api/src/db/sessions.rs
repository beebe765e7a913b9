//! Sessions, through the functions of the sign-in role: hashes cannot be read otherwise.

use chrono::{DateTime, TimeDelta, Utc};
use diesel::prelude::*;
use diesel::sql_types::{Bool, Bytea, Interval, Nullable, Text, Timestamptz, Uuid as SqlUuid};
use diesel_async::{AsyncPgConnection, RunQueryDsl};
use parings_core::ids::PersonId;
use uuid::Uuid;

use super::statement::statement;

/// The account of an e-mail address.
#[derive(QueryableByName)]
pub struct AccountRow {
    /// The id of the account.
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
    /// The account that was signed in.
    #[diesel(sql_type = SqlUuid)]
    pub person_id: Uuid,
    /// The id of the session.
    #[diesel(sql_type = SqlUuid)]
    pub session: Uuid,
}

#[derive(QueryableByName)]
struct Held {
    #[diesel(sql_type = Bool)]
    held: bool,
}

statement!(AccountOf<'a> { email: &'a str => Text } = "sessions/account_of.sql");

/// The account of an e-mail address in lower case.
///
/// # Errors
/// When the database cannot be reached.
pub async fn account_of(
    conn: &mut AsyncPgConnection,
    email: &str,
) -> QueryResult<Option<AccountRow>> {
    AccountOf { email }.get_result(conn).await.optional()
}

statement!(ServiceHasSecret<'a> {
    service: Uuid => SqlUuid,
    hash: &'a [u8] => Bytea,
} = "sessions/service_has_secret.sql");

/// Whether a service that is not disabled has the secret of this SHA-256.
///
/// # Errors
/// When the database cannot be reached.
pub async fn service_has_secret(
    conn: &mut AsyncPgConnection,
    service: PersonId,
    hash: &[u8],
) -> QueryResult<bool> {
    let asked = ServiceHasSecret { service: service.0, hash };
    asked.get_result::<Held>(conn).await.map(|row| row.held)
}

/// A session to start.
pub struct NewSession<'a> {
    /// The account that signs in.
    pub person: PersonId,
    /// The password hash that was verified.
    pub verified: &'a str,
    /// The id of the session.
    pub session: Uuid,
    /// SHA-256 of its first refresh token.
    pub hash: &'a [u8],
    /// The moment that it starts.
    pub at: DateTime<Utc>,
    /// When that token expires.
    pub until: DateTime<Utc>,
}

statement!(Start<'a> {
    person: Uuid => SqlUuid,
    verified: &'a str => Text,
    session: Uuid => SqlUuid,
    hash: &'a [u8] => Bytea,
    at: DateTime<Utc> => Timestamptz,
    until: DateTime<Utc> => Timestamptz,
} = "sessions/start.sql");

/// Starts a session; false when the account changed while its password was being verified.
///
/// # Errors
/// When the database cannot be reached.
pub async fn start(conn: &mut AsyncPgConnection, new: &NewSession<'_>) -> QueryResult<bool> {
    let start = Start {
        person: new.person.0,
        verified: new.verified,
        session: new.session,
        hash: new.hash,
        at: new.at,
        until: new.until,
    };
    start.get_result::<Held>(conn).await.map(|row| row.held)
}

statement!(Refresh<'a> {
    token: &'a [u8] => Bytea,
    successor: &'a [u8] => Bytea,
    at: DateTime<Utc> => Timestamptz,
    until: DateTime<Utc> => Timestamptz,
    resend_window: TimeDelta => Interval,
} = "sessions/refresh.sql");

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
    Refresh { token, successor, at, until, resend_window }.get_result(conn).await
}

statement!(End<'a> {
    token: &'a [u8] => Bytea,
    at: DateTime<Utc> => Timestamptz,
} = "sessions/end.sql");

/// Ends the session of a refresh token (by its SHA-256), if there is one.
///
/// # Errors
/// When the database cannot be reached.
pub async fn end(
    conn: &mut AsyncPgConnection,
    token: &[u8],
    at: DateTime<Utc>,
) -> QueryResult<Option<EndedRow>> {
    End { token, at }.get_result(conn).await.optional()
}

statement!(EndOwn {
    session: Uuid => SqlUuid,
    at: DateTime<Utc> => Timestamptz,
} = "sessions/end_own.sql");

/// Ends a session of the acting person.
///
/// # Errors
/// When the database cannot be reached.
pub async fn end_own(
    conn: &mut AsyncPgConnection,
    session: Uuid,
    at: DateTime<Utc>,
) -> QueryResult<()> {
    EndOwn { session, at }.execute(conn).await.map(|_| ())
}

/// A password that the acting person chose.
pub struct NewPassword<'a> {
    /// The session that goes on.
    pub session: Uuid,
    /// The hash of the old password, which was verified.
    pub verified: &'a str,
    /// The hash of the new one.
    pub hash: &'a str,
    /// The moment of the change.
    pub at: DateTime<Utc>,
}

statement!(ChangeOwnPassword<'a> {
    session: Uuid => SqlUuid,
    verified: &'a str => Text,
    chosen: &'a str => Text,
    at: DateTime<Utc> => Timestamptz,
} = "sessions/change_own_password.sql");

/// Changes the acting person's password and ends their other sessions; false when it was changed while
/// the old one was being verified.
///
/// # Errors
/// When the database cannot be reached.
pub async fn change_own_password(
    conn: &mut AsyncPgConnection,
    new: &NewPassword<'_>,
) -> QueryResult<bool> {
    let NewPassword { session, verified, hash: chosen, at } = *new;
    let change = ChangeOwnPassword { session, verified, chosen, at };
    change.get_result::<Held>(conn).await.map(|row| row.held)
}

statement!(EndAllOf<'a> {
    person: Uuid => SqlUuid,
    at: DateTime<Utc> => Timestamptz,
    why: &'a str => Text,
} = "sessions/end_all_of.sql");

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
    EndAllOf { person: person.0, at, why }.execute(conn).await.map(|_| ())
}
