//! People and services: who may sign in, as what, and where. Head office's work, apart from
//! [`me`].

use chrono::{DateTime, Utc};
use diesel_async::AsyncPgConnection;
use parings_core::access::{Action, Role, Target};
use parings_core::ids::PersonId;
use serde::Serialize;
use serde_json::json;
use sha2::{Digest, Sha256};

use crate::app::Deps;
use crate::app::ground::writes::{self, Expected, Reply, Write};
use crate::app::ground::{audit, catalog};
use crate::app::signin::passwords;
use crate::context::{Caller, Ctx};
use crate::db;
use crate::db::people::{Credential, PersonRow};
use crate::edge::new_id;
use crate::error::AppError;

/// A person or, with the role till, a service.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Person {
    /// The id of the account.
    pub id: PersonId,
    /// What people call them.
    pub name: String,
    /// The address a person signs in with; a service has none.
    pub email: Option<String>,
    /// What they may play, and where.
    pub role: Role,
    /// When they were added.
    pub created_at: DateTime<Utc>,
    /// When they were disabled.
    pub disabled_at: Option<DateTime<Utc>>,
}

/// A person to add.
pub struct NewPerson {
    /// What people call them.
    pub name: String,
    /// In lower case.
    pub email: String,
    /// Any but a till's.
    pub role: Role,
    /// None to have one made.
    pub password: Option<String>,
}

/// What can be changed about a person.
#[derive(Serialize)]
pub struct Change {
    /// What people call them.
    pub name: String,
    /// Any but a till's.
    pub role: Role,
}

/// A person, and the password or secret that was made for them.
pub struct Issued {
    /// Whose password or secret it is.
    pub person: Person,
    /// To hand over; shown once.
    pub secret: Option<String>,
    /// Whether a secret was made and is not shown again.
    pub withheld: bool,
}

impl Person {
    /// The ETag of what head office wrote about them, with its quotation marks.
    pub fn etag(&self) -> String {
        let written = json!([self.name, self.email, self.role, self.disabled_at]);
        let hash = Sha256::digest(written.to_string());
        let hex: String = hash[..12].iter().map(|byte| format!("{byte:02x}")).collect();
        format!("\"{hex}\"")
    }

    pub(super) fn from_row(row: PersonRow) -> Result<Self, AppError> {
        Ok(Self {
            id: PersonId(row.id),
            name: row.name,
            email: row.email,
            role: Role::from_parts(&row.role, &row.places).map_err(anyhow::Error::msg)?,
            created_at: row.created_at,
            disabled_at: row.disabled_at,
        })
    }

    pub(super) fn row(&self) -> PersonRow {
        PersonRow {
            id: self.id.0,
            kind: kind(&self.role).to_owned(),
            name: self.name.clone(),
            email: self.email.clone(),
            role: self.role.word().to_owned(),
            places: self.role.places().into_iter().map(str::to_owned).collect(),
            created_at: self.created_at,
            disabled_at: self.disabled_at,
        }
    }
}

pub(super) fn kind(role: &Role) -> &'static str {
    match role {
        Role::Till(_) => "service",
        _ => "person",
    }
}

/// A name as it is kept.
///
/// # Errors
/// A sentence for people.
pub fn check_name(text: &str) -> Result<String, &'static str> {
    let name = text.trim();
    if name.is_empty() || name.chars().count() > 200 || name.chars().any(char::is_control) {
        return Err("a name has 1 to 200 characters, all of them printable");
    }
    Ok(name.to_owned())
}

/// An e-mail address as it is kept. Whether it takes mail only mail can tell, so no more is asked
/// of it than a sign-in needs.
///
/// # Errors
/// A sentence for people.
pub fn check_email(text: &str) -> Result<String, &'static str> {
    let email = text.trim().to_lowercase();
    let halves = email.rsplit_once('@');
    let shaped = halves.is_some_and(|(name, host)| !name.is_empty() && !host.is_empty());
    if !shaped || email.len() > 254 || email.chars().any(|c| c.is_whitespace() || c.is_control()) {
        return Err("an e-mail address looks like ada@example.com");
    }
    Ok(email)
}

/// Who is asking, as the records have them.
///
/// # Errors
/// 401 as everywhere.
pub async fn me(deps: &Deps, caller: &Caller) -> Result<Person, AppError> {
    deps.acting(caller, async |conn, ctx| {
        let row = db::people::find(conn, ctx.actor.person).await?;
        Person::from_row(row.ok_or_else(|| AppError::not_found("person"))?)
    })
    .await
}

/// People in the order they were added, from after `after` on.
///
/// # Errors
/// 403 for all but head office.
pub async fn list(
    deps: &Deps,
    caller: &Caller,
    after: Option<PersonId>,
    limit: usize,
) -> Result<Vec<Person>, AppError> {
    page_of(deps, caller, "person", after, limit).await
}

pub(super) async fn page_of(
    deps: &Deps,
    caller: &Caller,
    kind: &str,
    after: Option<PersonId>,
    limit: usize,
) -> Result<Vec<Person>, AppError> {
    let limit = i64::try_from(limit).map_err(|e| AppError::Internal(e.into()))?;
    deps.acting(caller, async |conn, ctx| {
        ctx.require(Action::ReadPeople, &Target::Network)?;
        audit::note_reading_of_all(conn, ctx, Action::ReadPeople, kind).await?;
        let rows = db::people::page(conn, kind, after, limit).await?;
        rows.into_iter().map(Person::from_row).collect()
    })
    .await
}

/// The account of a person, for head office.
///
/// # Errors
/// 403 for all but head office, 404 when there is no such person.
pub async fn find(deps: &Deps, caller: &Caller, id: PersonId) -> Result<Person, AppError> {
    deps.acting(caller, async |conn, ctx| {
        ctx.require(Action::ReadPeople, &Target::Network)?;
        let target = format!("person {id}");
        audit::note_reading_of_all(conn, ctx, Action::ReadPeople, &target).await?;
        expect("person", id, db::people::find(conn, id).await?)
    })
    .await
}

/// Adds a person. `show` makes the answer's body.
///
/// # Errors
/// 403 for all but head office, 409 when the e-mail address is on record.
pub async fn add<W: Serialize>(
    deps: &Deps,
    caller: &Caller,
    write: Write,
    new: NewPerson,
    show: impl Fn(Issued) -> W,
) -> Result<Reply, AppError> {
    let chain = may_edit(deps, caller).await?;
    if let Some(Err(said)) = new.password.as_deref().map(|p| passwords::check(p, &[&chain])) {
        return Err(AppError::invalid("/password", said));
    }
    // Kept for ever with the write, so it has to tell nothing about the password: hence the key.
    let chosen = new.password.as_deref();
    let chosen = chosen.map(|p| deps.signin.keys.derive("password of a write", p.as_bytes()));
    let content = json!([new.name, new.email, new.role, chosen]);
    let made = new.password.is_none().then(passwords::generate);
    let password = new.password.or_else(|| made.clone()).unwrap_or_default();
    let hash = deps.signin.passwords.hash(password).await?;
    deps.acting(caller, async |conn, ctx| {
        ctx.require(Action::EditPeople, &Target::Network)?;
        writes::replay_or(conn, ctx, &write, &content, async |conn| {
            let person = Person {
                id: PersonId(new_id()),
                name: new.name,
                email: Some(new.email),
                role: new.role,
                created_at: ctx.now,
                disabled_at: None,
            };
            let by = Some(ctx.actor.person);
            db::people::add(conn, &person.row(), &Credential::Password(&hash), by).await?;
            note(conn, ctx, "add person", &person).await?;
            issue(201, person, made, show)
        })
        .await
    })
    .await
}

/// Changes name, role and places. `show` makes the answer's body.
///
/// # Errors
/// 403 for all but head office, 404 when there is no such person, 409 for one's own role, 412 when
/// the person is not as `expected` any more.
pub async fn change<W: Serialize>(
    deps: &Deps,
    caller: &Caller,
    write: Write,
    id: PersonId,
    expected: &Expected,
    change: Change,
    show: impl Fn(Person) -> W,
) -> Result<Reply, AppError> {
    deps.acting(caller, async |conn, ctx| {
        ctx.require(Action::EditPeople, &Target::Network)?;
        writes::replay_or(conn, ctx, &write, &json!(change), async |conn| {
            let mut person = expect("person", id, db::people::find_to_change(conn, id).await?)?;
            expected.check(Some(&person.etag()))?;
            if id == ctx.actor.person && change.role != person.role {
                return Err(AppError::Conflict("nobody changes their own role".to_owned()));
            }
            (person.name, person.role) = (change.name, change.role);
            db::people::change(conn, &person.row(), ctx.now).await?;
            note(conn, ctx, "change person", &person).await?;
            let etag = person.etag();
            Ok(Reply::changed(show(person))?.etag(etag))
        })
        .await
    })
    .await
}

/// Disables a person, whose sessions end, or enables them again.
///
/// # Errors
/// 403 for all but head office, 404 when there is no such person, 409 for oneself.
pub async fn set_disabled<W: Serialize>(
    deps: &Deps,
    caller: &Caller,
    write: Write,
    id: PersonId,
    disabled: bool,
    show: impl Fn(Person) -> W,
) -> Result<Reply, AppError> {
    let verb = if disabled { "disable" } else { "enable" };
    deps.acting(caller, async |conn, ctx| {
        ctx.require(Action::EditPeople, &Target::Network)?;
        writes::replay_or(conn, ctx, &write, &(), async |conn| {
            let mut person = expect("person", id, db::people::find_to_change(conn, id).await?)?;
            if id == ctx.actor.person {
                return Err(AppError::Conflict(format!("nobody can {verb} themselves")));
            }
            person.disabled_at = if disabled { person.disabled_at.or(Some(ctx.now)) } else { None };
            db::people::set_disabled(conn, id, person.disabled_at, ctx.now).await?;
            if disabled {
                db::sessions::end_all_of(conn, id, ctx.now, "disabled").await?;
            }
            note(conn, ctx, &format!("{verb} person"), &person).await?;
            let etag = person.etag();
            Ok(Reply::changed(show(person))?.etag(etag))
        })
        .await
    })
    .await
}

/// Gives a person a new password and ends their sessions.
///
/// # Errors
/// 403 for all but head office, 404 when there is no such person.
pub async fn reset<W: Serialize>(
    deps: &Deps,
    caller: &Caller,
    write: Write,
    id: PersonId,
    show: impl Fn(Issued) -> W,
) -> Result<Reply, AppError> {
    may_edit(deps, caller).await?;
    let made = passwords::generate();
    let hash = deps.signin.passwords.hash(made.clone()).await?;
    deps.acting(caller, async |conn, ctx| {
        ctx.require(Action::EditPeople, &Target::Network)?;
        writes::replay_or(conn, ctx, &write, &(), async |conn| {
            let person = expect("person", id, db::people::find_to_change(conn, id).await?)?;
            db::people::set_password(conn, id, &hash, ctx.now).await?;
            db::sessions::end_all_of(conn, id, ctx.now, "reset").await?;
            note(conn, ctx, "reset password of person", &person).await?;
            issue(200, person, Some(made), show)
        })
        .await
    })
    .await
}

/// Asked before a password is hashed, so that only those who may can cause the work. Answers with the
/// chain's name.
async fn may_edit(deps: &Deps, caller: &Caller) -> Result<String, AppError> {
    deps.acting(caller, async |conn, ctx| {
        ctx.require(Action::EditPeople, &Target::Network)?;
        chain(deps, conn, ctx).await
    })
    .await
}

/// What the chain calls itself; nothing before it has settings.
pub(super) async fn chain(
    deps: &Deps,
    conn: &AsyncPgConnection,
    ctx: &Ctx,
) -> Result<String, AppError> {
    let catalog = catalog::in_force(deps, conn, ctx.today(), ctx.now, None).await?;
    Ok(catalog.settings.as_ref().map(|settings| settings.title.clone()).unwrap_or_default())
}

/// The answer with a secret, which is not kept for a resend.
pub(super) fn issue<W: Serialize>(
    status: u16,
    person: Person,
    secret: Option<String>,
    show: impl Fn(Issued) -> W,
) -> Result<Reply, AppError> {
    let etag = person.etag();
    let withheld = secret.is_some();
    let kept = show(Issued { person: person.clone(), secret: None, withheld });
    let shown = show(Issued { person, secret, withheld: false });
    Reply::with(status, shown)?.etag(etag).keeping(kept)
}

pub(super) fn expect(kind: &str, id: PersonId, row: Option<PersonRow>) -> Result<Person, AppError> {
    let row = row.filter(|row| row.kind == kind);
    Person::from_row(row.ok_or_else(|| AppError::not_found(format!("{kind} {id}")))?)
}

pub(super) async fn note(
    conn: &mut AsyncPgConnection,
    ctx: &Ctx,
    action: &str,
    person: &Person,
) -> Result<(), AppError> {
    let target = format!("{} {}", kind(&person.role), person.id);
    let detail = json!({
        "name": person.name, "role": person.role.word(), "places": person.role.places(),
    });
    Ok(db::audit::add(conn, ctx, action, &target, None, Some(detail)).await?)
}
