//! People: head office adds, changes, disables and resets them.

use actix_web::HttpResponse;
use actix_web::http::header;
use actix_web::web::{Data, Path, Query};
use chrono::{DateTime, Utc};
use parings_core::access::{Role, RoleError};
use parings_core::ids::{PersonId, WriteId};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

use crate::app::Deps;
use crate::app::ground::writes::Operation;
use crate::app::office::{own_password, people};
use crate::app::signin::passwords;
use crate::context::Caller;
use crate::error::{AppError, Fault, Problem};
use crate::http::answers::{Expecting, Found, Keyed, OfficeOnly, Queried, Sent, SignedIn};
use crate::http::body::Body;
use crate::http::page::{Page, PageQuery};
use crate::http::reply::{self, IdempotencyKey, Precondition};

/// A person, or a service as itself sees it at `/v1/me`.
#[derive(Serialize, ToSchema)]
pub struct Person {
    /// The id of the person.
    pub id: Uuid,
    /// The name that the people they work with see.
    pub name: String,
    /// The address they sign in with; missing for a service.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub email: Option<String>,
    /// crew, manager, coach, owner, office or till.
    #[schema(example = "manager")]
    pub role: String,
    /// The codes of the stores, districts or owners of the role.
    pub places: Vec<String>,
    /// When they were added.
    pub created_at: DateTime<Utc>,
    /// When they were disabled; missing while they are not.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub disabled_at: Option<DateTime<Utc>>,
}

impl From<people::Person> for Person {
    fn from(person: people::Person) -> Self {
        Self {
            id: person.id.0,
            name: person.name,
            email: person.email,
            role: person.role.word().to_owned(),
            places: person.role.places().into_iter().map(str::to_owned).collect(),
            created_at: person.created_at,
            disabled_at: person.disabled_at,
        }
    }
}

/// A person with the password that was made for them.
#[derive(Serialize, ToSchema)]
pub struct PersonWithPassword {
    /// The person as they stand now.
    #[serde(flatten)]
    pub person: Person,
    /// To hand over, shown this once; missing when the request had one.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub password: Option<String>,
    /// True when this is a resend and the password was shown in the first answer, which alone had
    /// it: passwords are not kept. If that answer was lost, reset the person.
    pub password_withheld: bool,
}

impl From<people::Issued> for PersonWithPassword {
    fn from(issued: people::Issued) -> Self {
        Self {
            person: issued.person.into(),
            password: issued.secret,
            password_withheld: issued.withheld,
        }
    }
}

/// A person to add.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewPerson {
    /// The name that the people they work with will see.
    #[schema(min_length = 1, max_length = 200)]
    pub name: String,
    /// The address they will sign in with.
    #[schema(example = "ada@example.com", max_length = 254)]
    pub email: String,
    /// crew, manager, coach, owner or office.
    #[schema(example = "manager")]
    pub role: String,
    /// Stores for crew and manager, districts for a coach, owners for an owner; none for office.
    #[serde(default)]
    pub places: Vec<String>,
    /// At least 8 characters and at most 128 bytes, none that many people have, and without the person's
    /// or the chain's name; leave it out to have one made.
    #[schema(format = Password, min_length = 8)]
    pub password: Option<String>,
}

/// A change to a person.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct PersonChange {
    /// The client's own id of this change.
    pub submission_id: Uuid,
    /// The name that the people they work with will see.
    #[schema(min_length = 1, max_length = 200)]
    pub name: String,
    /// crew, manager, coach, owner or office.
    #[schema(example = "manager")]
    pub role: String,
    /// Stores for crew and manager, districts for a coach, owners for an owner; none for office.
    #[serde(default)]
    pub places: Vec<String>,
}

impl TryFrom<NewPerson> for people::NewPerson {
    type Error = AppError;

    fn try_from(sent: NewPerson) -> Result<Self, AppError> {
        let mut faults = Vec::new();
        let name = checked("/name", &sent.name, people::check_name, &mut faults);
        let email = checked("/email", &sent.email, people::check_email, &mut faults);
        let role = role(&sent.role, &sent.places, &mut faults);
        let password =
            sent.password.as_deref().map(|password| passwords::check(password, &[&email]));
        if let Some(Err(said)) = password {
            faults.push(Fault::new("/password", said));
        }
        match role {
            Some(role) if faults.is_empty() => {
                Ok(Self { name, email, role, password: sent.password })
            }
            _ => Err(AppError::Invalid(faults)),
        }
    }
}

impl TryFrom<PersonChange> for people::Change {
    type Error = AppError;

    fn try_from(sent: PersonChange) -> Result<Self, AppError> {
        let mut faults = Vec::new();
        let name = checked("/name", &sent.name, people::check_name, &mut faults);
        match role(&sent.role, &sent.places, &mut faults) {
            Some(role) if faults.is_empty() => Ok(Self { name, role }),
            _ => Err(AppError::Invalid(faults)),
        }
    }
}

/// What `check` makes of a member, or a fault at its place.
pub(super) fn checked(
    pointer: &str,
    sent: &str,
    check: fn(&str) -> Result<String, &'static str>,
    faults: &mut Vec<Fault>,
) -> String {
    check(sent).unwrap_or_else(|said| {
        faults.push(Fault::new(pointer, said));
        String::new()
    })
}

fn role(word: &str, places: &[String], faults: &mut Vec<Fault>) -> Option<Role> {
    match Role::from_parts(word, places) {
        Ok(Role::Till(_)) => {
            faults.push(Fault::new("/role", "a till is a service: add it at /v1/services"));
            None
        }
        Ok(role) => Some(role),
        Err(error) => {
            let unknown = matches!(error, RoleError::NoSuchRole { .. });
            let at = if unknown { "/role" } else { "/places" };
            faults.push(Fault::new(at, error.to_string()));
            None
        }
    }
}

fn show(person: people::Person) -> HttpResponse {
    HttpResponse::Ok().insert_header((header::ETAG, person.etag())).json(Person::from(person))
}

/// Who is asking, and what they may play.
#[utoipa::path(get, path = "/v1/me", operation_id = "read_me", tag = "people", responses(
        (status = 200, description = "The person or service of the bearer token", body = Person,
        headers(("ETag" = String, description = "Changes with what head office writes"))),
        SignedIn))]
pub async fn me(deps: Data<Deps>, caller: Caller) -> Result<HttpResponse, AppError> {
    Ok(show(people::me(&deps, &caller).await?))
}

/// One's own password, and the one to have from now on.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct PasswordChange {
    /// The password until now.
    #[schema(format = Password)]
    pub old: String,
    /// At least 8 characters and at most 128 bytes, none that many people have, and without one's own or
    /// the chain's name.
    #[schema(format = Password, min_length = 8)]
    pub new: String,
}

/// Change one's own password. All other sessions of the person end; this one goes on.
///
/// An old password that is wrong counts as a wrong try to sign in does, against the person alone.
#[utoipa::path(post, path = "/v1/me/password", operation_id = "change_own_password", tag = "people", request_body = PasswordChange,
    params(IdempotencyKey),
    responses(
        (status = 200, description = "Changed", body = Person,
        headers(("ETag" = String, description = "Changes with what head office writes"))),
        SignedIn, Sent,
        (status = 409, description = "A service has no password, or it was changed by somebody else just now", body = Problem, content_type = "application/problem+json"),
        (status = 429, description = "Too many wrong tries", body = Problem, content_type = "application/problem+json",
            headers(("Retry-After" = u64, description = "Seconds to wait")))))]
pub async fn change_password(
    deps: Data<Deps>,
    caller: Caller,
    key: IdempotencyKey,
    Body(sent): Body<PasswordChange>,
) -> Result<HttpResponse, AppError> {
    let PasswordChange { old, new } = sent;
    reply::send(own_password::change(&deps, &caller, key.0, old, new, Person::from).await?)
}

/// People, in the order they were added.
#[utoipa::path(get, path = "/v1/people", operation_id = "list_people", tag = "people", params(PageQuery), responses(
        (status = 200, description = "A page of people", body = Page<Person>),
        OfficeOnly, Queried))]
pub async fn list(
    deps: Data<Deps>,
    caller: Caller,
    query: Query<PageQuery>,
) -> Result<HttpResponse, AppError> {
    let (limit, after) = (query.limit()?, query.after()?);
    let found = people::list(&deps, &caller, after, limit + 1).await?;
    Ok(HttpResponse::Ok().json(Page::<Person>::cut(found, limit, |person| person.id)?))
}

/// One person, with what they may play and where.
#[utoipa::path(get, path = "/v1/people/{id}", operation_id = "read_person", tag = "people",
    params(("id" = Uuid, Path, description = "The person")), responses(
        (status = 200, description = "The person", body = Person,
        headers(("ETag" = String, description = "For If-Match"))),
        OfficeOnly, Found))]
pub async fn find(
    deps: Data<Deps>,
    caller: Caller,
    id: Path<Uuid>,
) -> Result<HttpResponse, AppError> {
    Ok(show(people::find(&deps, &caller, PersonId(*id)).await?))
}

/// Add a person.
#[utoipa::path(post, path = "/v1/people", operation_id = "add_person", tag = "people", request_body = NewPerson,
    params(IdempotencyKey),
    responses(
        (status = 201, description = "Added", body = PersonWithPassword,
        headers(("ETag" = String, description = "For If-Match"))),
        OfficeOnly, Sent,
        (status = 409, description = "Somebody with this address is on record", body = Problem, content_type = "application/problem+json")))]
pub async fn add(
    deps: Data<Deps>,
    caller: Caller,
    key: IdempotencyKey,
    Body(sent): Body<NewPerson>,
) -> Result<HttpResponse, AppError> {
    let new = sent.try_into()?;
    reply::send(people::add(&deps, &caller, key.0, new, PersonWithPassword::from).await?)
}

/// Change a person's name, role and places.
#[utoipa::path(put, path = "/v1/people/{id}", operation_id = "change_person", tag = "people", request_body = PersonChange,
    params(("id" = Uuid, Path, description = "The person"),
        ("If-Match" = String, Header, description = "The ETag last read")),
    responses(
        (status = 200, description = "Changed", body = Person,
        headers(("ETag" = String, description = "For If-Match"))),
        OfficeOnly, Found, Sent, Expecting,
        (status = 409, description = "Nobody changes their own role", body = Problem, content_type = "application/problem+json")))]
pub async fn change(
    deps: Data<Deps>,
    caller: Caller,
    id: Path<Uuid>,
    operation: Operation,
    expected: Precondition,
    Body(sent): Body<PersonChange>,
) -> Result<HttpResponse, AppError> {
    let (write, id) = (operation.under(WriteId(sent.submission_id)), PersonId(*id));
    let change = sent.try_into()?;
    let reply =
        people::change(&deps, &caller, write, id, &expected.0, change, Person::from).await?;
    reply::send(reply)
}

/// Disable a person. Their sessions end, and their access tokens stop at once.
#[utoipa::path(post, path = "/v1/people/{id}/disable", operation_id = "disable_person", tag = "people",
    params(("id" = Uuid, Path, description = "The person"),
        IdempotencyKey),
    responses(
        (status = 200, description = "Disabled, now or before", body = Person,
        headers(("ETag" = String, description = "For If-Match"))),
        OfficeOnly, Found, Keyed,
        (status = 409, description = "Nobody can disable themselves", body = Problem, content_type = "application/problem+json")))]
pub async fn disable(
    deps: Data<Deps>,
    caller: Caller,
    key: IdempotencyKey,
    id: Path<Uuid>,
) -> Result<HttpResponse, AppError> {
    let id = PersonId(*id);
    reply::send(people::set_disabled(&deps, &caller, key.0, id, true, Person::from).await?)
}

/// Enable a person who was disabled. They sign in anew.
#[utoipa::path(post, path = "/v1/people/{id}/enable", operation_id = "enable_person", tag = "people",
    params(("id" = Uuid, Path, description = "The person"),
        IdempotencyKey),
    responses(
        (status = 200, description = "Enabled, now or before", body = Person,
        headers(("ETag" = String, description = "For If-Match"))),
        OfficeOnly, Found, Keyed,
        (status = 409, description = "Nobody can enable themselves", body = Problem, content_type = "application/problem+json")))]
pub async fn enable(
    deps: Data<Deps>,
    caller: Caller,
    key: IdempotencyKey,
    id: Path<Uuid>,
) -> Result<HttpResponse, AppError> {
    let id = PersonId(*id);
    reply::send(people::set_disabled(&deps, &caller, key.0, id, false, Person::from).await?)
}

/// Give a person a new password, shown once. Their sessions end.
#[utoipa::path(post, path = "/v1/people/{id}/reset", operation_id = "reset_person", tag = "people",
    params(("id" = Uuid, Path, description = "The person"),
        IdempotencyKey),
    responses(
        (status = 200, description = "The new password", body = PersonWithPassword,
        headers(("ETag" = String, description = "For If-Match"))),
        OfficeOnly, Found, Keyed))]
pub async fn reset(
    deps: Data<Deps>,
    caller: Caller,
    key: IdempotencyKey,
    id: Path<Uuid>,
) -> Result<HttpResponse, AppError> {
    let id = PersonId(*id);
    reply::send(people::reset(&deps, &caller, key.0, id, PersonWithPassword::from).await?)
}
