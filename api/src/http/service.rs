//! For machines that watch the server.

use actix_web::HttpResponse;
use actix_web::web::Data;
use serde::Serialize;
use utoipa::ToSchema;

use crate::app::Deps;
use crate::app::ground::readiness;
use crate::error::{AppError, Problem};
use crate::metrics::Metrics;

/// The process answers.
#[utoipa::path(get, path = "/healthz", tag = "service", security(()),
    responses((status = 200, description = "The process answers", body = String, content_type = "text/plain")))]
pub async fn healthz() -> &'static str {
    "ok\n"
}

/// Whether the server can work.
#[derive(Serialize, ToSchema)]
pub struct Readiness {
    /// The newest migration, in the database and in the binary alike.
    pub migration: String,
}

/// The database answers, can write, and has the migrations of this binary.
#[utoipa::path(get, path = "/readyz", tag = "service", security(()), responses(
    (status = 200, description = "Ready for work", body = Readiness),
    (status = 503, description = "Not ready, and why", body = Problem, content_type = "application/problem+json")))]
pub async fn readyz(deps: Data<Deps>) -> Result<HttpResponse, AppError> {
    let migration = readiness::check(&deps).await?;
    Ok(HttpResponse::Ok().json(Readiness { migration }))
}

/// Counters in the Prometheus text format.
#[utoipa::path(get, path = "/metrics", tag = "service", security(()),
    responses((status = 200, description = "Counters", body = String, content_type = "text/plain")))]
pub async fn metrics(deps: Data<Deps>, metrics: Data<Metrics>) -> Result<HttpResponse, AppError> {
    Ok(HttpResponse::Ok()
        .content_type("text/plain; version=0.0.4; charset=utf-8")
        .body(metrics.text(&deps.pool)?))
}

/// This API, described.
#[utoipa::path(get, path = "/openapi.json", tag = "service", security(()),
    responses((status = 200, description = "OpenAPI 3.1", body = Object, content_type = "application/json")))]
pub async fn openapi() -> HttpResponse {
    HttpResponse::Ok().content_type("application/json").body(crate::openapi::document())
}
