//! The stores that the caller sees.

use actix_web::HttpResponse;
use actix_web::web::{Data, Path, Query};
use chrono::NaiveDate;
use parings_core::ids::StoreId;
use serde::Serialize;
use utoipa::ToSchema;

use crate::app::Deps;
use crate::app::office::stores;
use crate::context::Caller;
use crate::error::AppError;
use crate::http::answers::{Found, Queried, SignedIn};
use crate::http::page::{Page, PageQuery};
use crate::http::reference::places::StoreBody;

/// A store as it is today.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct SeenStoreBody {
    /// The code of the store.
    #[schema(example = "ford")]
    pub code: String,
    /// The region of its district.
    #[schema(example = "valley")]
    pub region: String,
    /// The business date its clock is in.
    pub business_date: NaiveDate,
    /// What head office says of it.
    pub store: StoreBody,
}

impl From<stores::Seen> for SeenStoreBody {
    fn from(seen: stores::Seen) -> Self {
        Self {
            code: seen.standing.store.to_string(),
            region: seen.standing.region.to_string(),
            business_date: seen.business_date.into(),
            store: (&seen.store).into(),
        }
    }
}

/// A store of a path; one that cannot be is not there.
pub(super) fn store_of(code: &str) -> Result<StoreId, AppError> {
    code.parse().map_err(|_| AppError::not_found("store of this name"))
}

/// The stores you see today, in order of their codes.
#[utoipa::path(get, path = "/v1/stores", operation_id = "list_stores", tag = "stores", params(PageQuery), responses(
        (status = 200, description = "A page of stores", body = Page<SeenStoreBody>),
        SignedIn, Queried))]
pub async fn list(
    deps: Data<Deps>,
    caller: Caller,
    query: Query<PageQuery>,
) -> Result<HttpResponse, AppError> {
    let (limit, after) = (query.limit()?, query.after()?);
    let found = stores::list(&deps, &caller, after, limit + 1).await?;
    let page = Page::<SeenStoreBody>::cut(found, limit, |seen| seen.standing.store.clone())?;
    Ok(HttpResponse::Ok().json(page))
}

/// One store as it is today.
#[utoipa::path(get, path = "/v1/stores/{store}", operation_id = "read_store", tag = "stores",
    params(("store" = String, Path, description = "The store's code", example = "ford")), responses(
        (status = 200, description = "The store", body = SeenStoreBody),
        SignedIn, Found))]
pub async fn find(
    deps: Data<Deps>,
    caller: Caller,
    store: Path<String>,
) -> Result<HttpResponse, AppError> {
    let seen = stores::find(&deps, &caller, &store_of(&store)?).await?;
    Ok(HttpResponse::Ok().json(SeenStoreBody::from(seen)))
}
