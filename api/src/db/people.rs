//! People and services. Their hashes are written here and never read.

use chrono::{DateTime, Utc};
use diesel::prelude::*;
use diesel_async::{AsyncPgConnection, RunQueryDsl};
use parings_core::ids::PersonId;
use uuid::Uuid;

use crate::db::schema::people;

/// A person or a service, without anything secret.
#[derive(Queryable, Selectable)]
#[diesel(table_name = people)]
pub struct PersonRow {
    /// The id of the account.
    pub id: Uuid,
    /// `person` or `service`.
    pub kind: String,
    /// What people call them.
    pub name: String,
    /// The address a person signs in with.
    pub email: Option<String>,
    /// The word of their role.
    pub role: String,
    /// The codes of its places.
    pub places: Vec<String>,
    /// When they were added.
    pub created_at: DateTime<Utc>,
    /// When they were disabled.
    pub disabled_at: Option<DateTime<Utc>>,
}

/// How somebody shows who they are.
pub enum Credential<'a> {
    /// A person's password, as a PHC string.
    Password(&'a str),
    /// SHA-256 of a service's secret.
    Secret(&'a [u8]),
}

/// A page of one kind in the order they were added, from after `after` on.
///
/// # Errors
/// When the database cannot be reached.
pub async fn page(
    conn: &mut AsyncPgConnection,
    kind: &str,
    after: Option<PersonId>,
    limit: i64,
) -> QueryResult<Vec<PersonRow>> {
    let mut query = people::table
        .filter(people::kind.eq(kind))
        .order(people::id.asc())
        .limit(limit)
        .select(PersonRow::as_select())
        .into_boxed();
    if let Some(after) = after {
        query = query.filter(people::id.gt(after.0));
    }
    query.load(conn).await
}

/// One of them, if the acting person may see it.
///
/// # Errors
/// When the database cannot be reached.
pub async fn find(conn: &mut AsyncPgConnection, id: PersonId) -> QueryResult<Option<PersonRow>> {
    people::table.find(id.0).select(PersonRow::as_select()).first(conn).await.optional()
}

/// As [`find`], and nobody else can change it until the transaction ends.
///
/// # Errors
/// When the database cannot be reached or the row is locked for too long.
pub async fn find_to_change(
    conn: &mut AsyncPgConnection,
    id: PersonId,
) -> QueryResult<Option<PersonRow>> {
    let query = people::table.find(id.0).select(PersonRow::as_select()).for_update();
    query.first(conn).await.optional()
}

/// The person who signs in with an e-mail address in lower case.
///
/// # Errors
/// When the database cannot be reached.
pub async fn find_by_email(
    conn: &mut AsyncPgConnection,
    email: &str,
) -> QueryResult<Option<PersonRow>> {
    let query = people::table.filter(people::email.eq(email)).select(PersonRow::as_select());
    query.first(conn).await.optional()
}

/// Puts a person or a service on record.
///
/// # Errors
/// A violation of `people_email_key` when the address is on record.
pub async fn add(
    conn: &mut AsyncPgConnection,
    row: &PersonRow,
    credential: &Credential<'_>,
    by: Option<PersonId>,
) -> QueryResult<()> {
    let (password_hash, secret_hash) = match credential {
        Credential::Password(hash) => (Some(*hash), None),
        Credential::Secret(hash) => (None, Some(*hash)),
    };
    diesel::insert_into(people::table)
        .values((
            people::id.eq(row.id),
            people::kind.eq(&row.kind),
            people::name.eq(&row.name),
            people::email.eq(row.email.as_deref()),
            people::role.eq(&row.role),
            people::places.eq(&row.places),
            people::password_hash.eq(password_hash),
            people::secret_hash.eq(secret_hash),
            people::created_at.eq(row.created_at),
            people::created_by.eq(by.map(|person| person.0)),
            people::changed_at.eq(row.created_at),
        ))
        .execute(conn)
        .await
        .map(|_| ())
}

/// Changes name, role and places.
///
/// # Errors
/// When the database cannot be reached.
pub async fn change(
    conn: &mut AsyncPgConnection,
    row: &PersonRow,
    at: DateTime<Utc>,
) -> QueryResult<()> {
    diesel::update(people::table.find(row.id))
        .set((
            people::name.eq(&row.name),
            people::role.eq(&row.role),
            people::places.eq(&row.places),
            people::changed_at.eq(at),
        ))
        .execute(conn)
        .await
        .map(|_| ())
}

/// Disables, or with `None` enables.
///
/// # Errors
/// When the database cannot be reached.
pub async fn set_disabled(
    conn: &mut AsyncPgConnection,
    id: PersonId,
    disabled_at: Option<DateTime<Utc>>,
    at: DateTime<Utc>,
) -> QueryResult<()> {
    diesel::update(people::table.find(id.0))
        .set((people::disabled_at.eq(disabled_at), people::changed_at.eq(at)))
        .execute(conn)
        .await
        .map(|_| ())
}

/// Sets a person's password.
///
/// # Errors
/// When the database cannot be reached.
pub async fn set_password(
    conn: &mut AsyncPgConnection,
    id: PersonId,
    hash: &str,
    at: DateTime<Utc>,
) -> QueryResult<()> {
    diesel::update(people::table.find(id.0))
        .set((people::password_hash.eq(hash), people::changed_at.eq(at)))
        .execute(conn)
        .await
        .map(|_| ())
}
