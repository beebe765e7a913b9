//! Who read or changed what matters, on the wire.
#![expect(unused_qualifications, reason = "utoipa repeats the path of a query")]

use actix_web::HttpResponse;
use actix_web::web::{Data, Query};
use chrono::{DateTime, Utc};
use parings_core::ids::PersonId;
use serde::{Deserialize, Serialize};
use serde_json::Value;
use utoipa::{IntoParams, ToSchema};
use uuid::Uuid;

use crate::app::Deps;
use crate::app::ground::audit::{self, Filter, Noted};
use crate::context::Caller;
use crate::error::AppError;
use crate::http::answers::{Allowed, Found, Queried};
use crate::http::nights::maybe_instant;
use crate::http::page::{Page, PageQuery};
use crate::http::stores::store_of;

/// Which rows of the audit are asked for.
#[derive(Debug, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(deny_unknown_fields)]
pub struct AuditQuery {
    /// Only what concerns this store.
    #[param(example = "ford")]
    pub store: Option<String>,
    /// Only what this person or service did.
    pub person: Option<Uuid>,
    /// Only this action, in the words it is noted with.
    #[param(example = "amend night")]
    pub action: Option<String>,
    /// From this moment on (RFC 3339).
    #[serde(default, deserialize_with = "maybe_instant")]
    pub since: Option<DateTime<Utc>>,
    /// Before this moment (RFC 3339).
    #[serde(default, deserialize_with = "maybe_instant")]
    pub until: Option<DateTime<Utc>>,
    /// `next` of the page before; leave it out for the first page.
    pub after: Option<String>,
    /// How many at most: 1 to 200, 50 when left out.
    #[param(minimum = 1, maximum = 200)]
    pub limit: Option<usize>,
}

/// Something that was noted.
#[derive(Serialize, ToSchema)]
pub struct NotedBody {
    /// The number of the row; a later one has a greater.
    pub id: i64,
    /// When it was noted.
    pub at: DateTime<Utc>,
    /// Who, by their id; missing for what happened while nobody was signed in, and to managers of who
    /// looks from above the store.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub person: Option<Uuid>,
    /// Their name, told to those who work in the store alone.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub name: Option<String>,
    /// What was done.
    #[schema(example = "amend night")]
    pub action: String,
    /// What it was done to, in the words it is noted with.
    #[schema(example = "night ford 2026-06-15")]
    pub target: String,
    /// The store it concerns.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub store: Option<String>,
    /// The request it came with, as in the logs.
    pub request_id: String,
    /// More about what was done, by the action; missing where there is nothing more.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub detail: Option<Value>,
}

impl From<Noted> for NotedBody {
    fn from(noted: Noted) -> Self {
        Self {
            id: noted.id,
            at: noted.at,
            person: noted.person.map(|person| person.0),
            name: noted.who.map(|who| who.name),
            action: noted.action,
            target: noted.target,
            store: noted.store,
            request_id: noted.request_id,
            detail: noted.detail,
        }
    }
}

/// Who read or changed what matters, newest first.
///
/// Noted are: every change (a night submitted or amended, entries recorded and withdrawn, what tills
/// sent, reference data, people and services, restatements), signing in and out, and that somebody
/// above a store read a night of it, its revisions, its entries or the rows behind a figure, or read
/// the list of people, or this list; one row for a request. A store that reads its own record is not
/// noted. Rows are never changed. Head office sees all of it, with ids; a manager what concerns
/// their stores, with names.
#[utoipa::path(get, path = "/v1/audit", operation_id = "list_audit", tag = "people",
    params(AuditQuery), responses(
        (status = 200, description = "A page of what was noted", body = Page<NotedBody>),
        Allowed, Found, Queried))]
pub async fn list(
    deps: Data<Deps>,
    caller: Caller,
    query: Query<AuditQuery>,
) -> Result<HttpResponse, AppError> {
    let AuditQuery { store, person, action, since, until, after, limit } = query.into_inner();
    let page = PageQuery { after, limit };
    let (limit, before) = (page.limit()?, page.after::<(DateTime<Utc>, i64)>()?);
    let store = store.as_deref().map(store_of).transpose()?;
    let filter = Filter { store, person: person.map(PersonId), action, since, until };
    let found = audit::list(&deps, &caller, &filter, before, limit + 1).await?;
    let page = Page::<NotedBody>::cut(found, limit, |noted| (noted.at, noted.id))?;
    Ok(HttpResponse::Ok().json(page))
}
