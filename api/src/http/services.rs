//! Services: tills that send sales and tickets.

use actix_web::HttpResponse;
use actix_web::web::{Data, Path, Query};
use chrono::{DateTime, Utc};
use parings_core::ids::{PersonId, StoreId};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

use crate::app::Deps;
use crate::app::office::people::{Issued, Person, check_name};
use crate::app::office::services;
use crate::context::Caller;
use crate::error::{AppError, Fault};
use crate::http::answers::{Found, Keyed, OfficeOnly, Queried, Sent};
use crate::http::body::Body;
use crate::http::page::{Page, PageQuery};
use crate::http::people::checked;
use crate::http::reply::{self, IdempotencyKey};

/// A till or another service that sends sales and tickets.
#[derive(Serialize, ToSchema)]
pub struct Service {
    /// The id of the service.
    pub id: Uuid,
    /// The name that head office gave it.
    pub name: String,
    /// The codes of the stores it sends for.
    pub stores: Vec<String>,
    /// When it was added.
    pub created_at: DateTime<Utc>,
    /// When it was revoked; missing while it was not.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub revoked_at: Option<DateTime<Utc>>,
}

impl From<Person> for Service {
    fn from(service: Person) -> Self {
        Self {
            id: service.id.0,
            name: service.name,
            stores: service.role.places().into_iter().map(str::to_owned).collect(),
            created_at: service.created_at,
            revoked_at: service.disabled_at,
        }
    }
}

/// A service with its secret.
#[derive(Serialize, ToSchema)]
pub struct ServiceWithSecret {
    /// The service as it stands now.
    #[serde(flatten)]
    pub service: Service,
    /// To send as `Authorization: Bearer …`, shown this once.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(example = "prs_0190a3f27c1e7b40a1f0c3d2e1b0a998.c2VjcmV0")]
    pub secret: Option<String>,
    /// True when this is a resend and the secret was shown in the first answer, which alone had it:
    /// secrets are not kept. If that answer was lost, revoke the service and add another.
    pub secret_withheld: bool,
}

impl From<Issued> for ServiceWithSecret {
    fn from(issued: Issued) -> Self {
        Self {
            service: issued.person.into(),
            secret: issued.secret,
            secret_withheld: issued.withheld,
        }
    }
}

/// A service to add.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewService {
    /// The name that head office gives it.
    #[schema(min_length = 1, max_length = 200)]
    pub name: String,
    /// The codes of the stores it sends for.
    #[schema(min_items = 1)]
    pub stores: Vec<String>,
}

impl TryFrom<NewService> for services::NewService {
    type Error = AppError;

    fn try_from(sent: NewService) -> Result<Self, AppError> {
        let mut faults = Vec::new();
        let name = checked("/name", &sent.name, check_name, &mut faults);
        if sent.stores.is_empty() {
            faults.push(Fault::new("/stores", "a service sends for at least one store"));
        }
        let mut stores = Vec::new();
        for (n, code) in sent.stores.iter().enumerate() {
            match StoreId::new(code) {
                Ok(store) => stores.push(store),
                Err(error) => faults.push(Fault::new(format!("/stores/{n}"), error.to_string())),
            }
        }
        if faults.is_empty() { Ok(Self { name, stores }) } else { Err(AppError::Invalid(faults)) }
    }
}

/// Services, in the order they were added.
#[utoipa::path(get, path = "/v1/services", operation_id = "list_services", tag = "people", params(PageQuery), responses(
        (status = 200, description = "A page of services", body = Page<Service>),
        OfficeOnly, Queried))]
pub async fn list(
    deps: Data<Deps>,
    caller: Caller,
    query: Query<PageQuery>,
) -> Result<HttpResponse, AppError> {
    let (limit, after) = (query.limit()?, query.after()?);
    let found = services::list(&deps, &caller, after, limit + 1).await?;
    Ok(HttpResponse::Ok().json(Page::<Service>::cut(found, limit, |service| service.id)?))
}

/// Add a service.
#[utoipa::path(post, path = "/v1/services", operation_id = "add_service", tag = "people", request_body = NewService,
    params(IdempotencyKey),
    responses(
        (status = 201, description = "Added", body = ServiceWithSecret),
        OfficeOnly, Sent))]
pub async fn add(
    deps: Data<Deps>,
    caller: Caller,
    key: IdempotencyKey,
    Body(sent): Body<NewService>,
) -> Result<HttpResponse, AppError> {
    let new = sent.try_into()?;
    reply::send(services::add(&deps, &caller, key.0, new, ServiceWithSecret::from).await?)
}

/// Revoke a service: its secret stops at once, for good.
#[utoipa::path(post, path = "/v1/services/{id}/revoke", operation_id = "revoke_service", tag = "people",
    params(("id" = Uuid, Path, description = "The service"),
        IdempotencyKey),
    responses(
        (status = 200, description = "Revoked, now or before", body = Service),
        OfficeOnly, Found, Keyed))]
pub async fn revoke(
    deps: Data<Deps>,
    caller: Caller,
    key: IdempotencyKey,
    id: Path<Uuid>,
) -> Result<HttpResponse, AppError> {
    reply::send(services::revoke(&deps, &caller, key.0, PersonId(*id), Service::from).await?)
}
