//! The index of the API: every address, grouped by concept.

pub mod body;
pub mod guard;
pub mod reply;
pub mod service;

use actix_web::web::{self, ServiceConfig, get};

use crate::error::AppError;
use crate::pages;

/// Every address of the server.
pub fn routes(config: &mut ServiceConfig) {
    config
        // For people with a browser.
        .route("/", get().to(pages::home::show))
        .route("/problems", get().to(pages::problems::show))
        // For machines that watch the server.
        .service(web::resource("/healthz").route(get().to(service::healthz)))
        .service(web::resource("/readyz").route(get().to(service::readyz)))
        .service(web::resource("/metrics").route(get().to(service::metrics)))
        .service(web::resource("/openapi.json").route(get().to(service::openapi)))
        .default_service(web::to(no_such_address));
}

async fn no_such_address(request: actix_web::HttpRequest) -> Result<String, AppError> {
    Err(AppError::not_found(format!("address {}", request.path())))
}
