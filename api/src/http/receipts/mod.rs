//! The receipt of a night on the wire.

mod body;
mod show;

use actix_web::HttpResponse;
use actix_web::http::header;
use actix_web::web::{Data, Path, Query};
use chrono::{DateTime, NaiveDate, Utc};
use serde::Deserialize;
use utoipa::IntoParams;

use crate::app::Deps;
use crate::app::night::receipts;
use crate::context::Caller;
use crate::error::{AppError, Problem};
use crate::http::answers::{Allowed, Found, Queried, SetUp};
use crate::http::nights::{maybe_instant, night_of};
pub use body::*;

/// The moment as known at which the receipt is told.
#[derive(Debug, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(deny_unknown_fields)]
pub struct KnownQuery {
    /// The figures as they were known at this moment (RFC 3339); as they are known now when left
    /// out. Such a receipt carries no marks of restatements that it does not know of.
    #[serde(default, deserialize_with = "maybe_instant")]
    pub as_known_at: Option<DateTime<Utc>>,
}

/// Read the receipt of a night: what was understood, and what it means as far as is known.
#[utoipa::path(get, path = "/v1/stores/{store}/nights/{business_date}",
    operation_id = "read_night", tag = "nights",
    params(
        ("store" = String, Path, description = "The store's code", example = "ford"),
        ("business_date" = NaiveDate, Path, description = "The business date"),
        KnownQuery),
    responses(
        (status = 200, description = "The receipt; without any count there is no ETag", body = ReceiptBody,
            headers(("ETag" = Option<String>, description = "Of the last revision of the count, whatever became of it"))),
        Allowed, Found, Queried, SetUp,
        (status = 422, description = "The moment is to come, or this would take too many nights", body = Problem, content_type = "application/problem+json")))]
pub async fn read(
    deps: Data<Deps>,
    caller: Caller,
    path: Path<(String, NaiveDate)>,
    query: Query<KnownQuery>,
) -> Result<HttpResponse, AppError> {
    let (store, date) = night_of(path.into_inner())?;
    let (receipt, ctx) = receipts::read(&deps, &caller, &store, date, query.as_known_at).await?;
    let mut response = HttpResponse::Ok();
    if let Some(etag) = receipt.etag() {
        response.insert_header((header::ETAG, etag));
    }
    Ok(response.json(ReceiptBody::new(&ctx, receipt)))
}
