//! What the operator of the machine can do about people, with the owner's connection and nobody
//! acting: above all add the first person of head office, who adds the others.

use anyhow::Context;
use chrono::{DateTime, Utc};
use diesel_async::{AsyncConnection, AsyncPgConnection};
use parings_core::calendar::BusinessDate;
use parings_core::ids::PersonId;
use serde_json::json;

use crate::app::Deps;
use crate::app::office::people::{NewPerson, Person};
use crate::app::signin::passwords::{self, Passwords};
use crate::db;
use crate::db::people::Credential;
use crate::edge::new_id;
use crate::error::AppError;

/// Stands in audit rows where a request has its id.
pub const COMMAND: &str = "command line";

/// People in the order they were added.
///
/// # Errors
/// When the database cannot be read.
pub async fn list(conn: &mut AsyncPgConnection) -> Result<Vec<Person>, AppError> {
    let rows = db::people::page(conn, "person", None, i64::MAX).await?;
    rows.into_iter().map(Person::from_row).collect()
}

/// The person of an e-mail address, in whose name a command works.
///
/// # Errors
/// 404 when there is none, or they are disabled.
pub async fn person(deps: &Deps, email: &str) -> Result<PersonId, AppError> {
    let email = email.trim().to_lowercase();
    let account =
        deps.transaction(async |conn| Ok(db::sessions::account_of(conn, &email).await?)).await?;
    let account = account.filter(|account| !account.disabled);
    let account = account.ok_or_else(|| AppError::not_found(format!("person with {email}")))?;
    Ok(PersonId(account.id))
}

/// Whether any person is on record.
///
/// # Errors
/// When the owner cannot connect or the database cannot be read.
pub async fn is_anybody_there(owner_url: &str) -> anyhow::Result<bool> {
    let mut conn = AsyncPgConnection::establish(owner_url).await.context("connect as the owner")?;
    Ok(!db::people::page(&mut conn, "person", None, 1).await?.is_empty())
}

/// The last night that has tallies.
///
/// # Errors
/// When the reader cannot connect or the database cannot be read.
pub async fn last_night(read_url: &str) -> anyhow::Result<Option<BusinessDate>> {
    let mut conn = AsyncPgConnection::establish(read_url).await.context("connect as the reader")?;
    Ok(db::tallies::last_night(&mut conn).await?)
}

/// Adds a person; answers with their password when one was made.
///
/// # Errors
/// 409 when the e-mail address is on record.
pub async fn add(
    conn: &mut AsyncPgConnection,
    now: DateTime<Utc>,
    new: NewPerson,
) -> Result<(Person, Option<String>), AppError> {
    let made = new.password.is_none().then(passwords::generate);
    let password = new.password.or_else(|| made.clone()).unwrap_or_default();
    let hash = Passwords::new(1, 0)?.hash(password).await?;
    let person = Person {
        id: PersonId(new_id()),
        name: new.name,
        email: Some(new.email),
        role: new.role,
        created_at: now,
        disabled_at: None,
    };
    conn.transaction::<_, AppError, _>(async |conn| {
        db::people::add(conn, &person.row(), &Credential::Password(&hash), None).await?;
        note(conn, now, "add person", &person).await
    })
    .await?;
    Ok((person, made))
}

/// Disables the person of an e-mail address, whose sessions end.
///
/// # Errors
/// 404 when there is none.
pub async fn disable(
    conn: &mut AsyncPgConnection,
    now: DateTime<Utc>,
    email: &str,
) -> Result<Person, AppError> {
    conn.transaction::<_, AppError, _>(async |conn| {
        let mut person = find(conn, email).await?;
        person.disabled_at = person.disabled_at.or(Some(now));
        db::people::set_disabled(conn, person.id, person.disabled_at, now).await?;
        db::sessions::end_all_of(conn, person.id, now, "disabled").await?;
        note(conn, now, "disable person", &person).await?;
        Ok(person)
    })
    .await
}

/// Gives the person of an e-mail address a new password, and ends their sessions.
///
/// # Errors
/// 404 when there is none.
pub async fn reset(
    conn: &mut AsyncPgConnection,
    now: DateTime<Utc>,
    email: &str,
) -> Result<(Person, String), AppError> {
    let made = passwords::generate();
    let hash = Passwords::new(1, 0)?.hash(made.clone()).await?;
    let person = conn
        .transaction::<_, AppError, _>(async |conn| {
            let person = find(conn, email).await?;
            db::people::set_password(conn, person.id, &hash, now).await?;
            db::sessions::end_all_of(conn, person.id, now, "reset").await?;
            note(conn, now, "reset password of person", &person).await?;
            Ok(person)
        })
        .await?;
    Ok((person, made))
}

async fn find(conn: &mut AsyncPgConnection, email: &str) -> Result<Person, AppError> {
    let email = email.trim().to_lowercase();
    let row = db::people::find_by_email(conn, &email).await?;
    Person::from_row(row.ok_or_else(|| AppError::not_found(format!("person with {email}")))?)
}

async fn note(
    conn: &mut AsyncPgConnection,
    now: DateTime<Utc>,
    action: &str,
    person: &Person,
) -> Result<(), AppError> {
    let target = format!("person {}", person.id);
    let detail = json!({
        "name": person.name, "role": person.role.word(), "places": person.role.places(),
    });
    Ok(db::audit::add_of_nobody(conn, now, COMMAND, action, &target, Some(detail)).await?)
}
