//! The index of the API: every address, grouped by concept.

pub mod amount;
pub mod answers;
pub mod approvals;
pub mod audit;
pub mod body;
pub mod calendar;
pub mod caller;
pub mod cases;
pub mod causes;
pub mod changes;
pub mod checks;
pub mod client;
pub mod confirmations;
pub mod course;
pub mod diary;
pub mod entries;
pub mod faults;
pub mod findings;
pub mod guard;
pub mod imports;
pub mod keys;
pub mod nights;
pub mod nul;
pub mod operation;
pub mod page;
pub mod pars;
pub mod parts;
pub mod people;
pub mod prep;
pub mod quantity;
pub mod receipts;
pub mod reference;
pub mod reply;
pub mod restatements;
pub mod review;
pub mod revisions;
pub mod rollups;
pub mod safety;
pub mod service;
pub mod services;
pub mod sessions;
pub mod shared;
pub mod sheet;
pub mod stores;
pub mod till;
pub mod tolerances;
pub mod trace;
pub mod transfers;

use actix_web::web::{self, ServiceConfig, delete, get, post, put};
use utoipa::OpenApi;

use crate::error::AppError;
use crate::pages;

/// Makes the router and the API document of one list: under an address, which method is handled where.
macro_rules! operations {
    ($($address:literal { $($method:ident $concept:ident::$handler:ident),+ })*) => {
        fn operations(config: &mut ServiceConfig) {
            $(config.service(
                web::resource($address)$(.route($method().to($concept::$handler)))+,
            );)*
        }

        /// Every operation of the API, as its handler describes it.
        #[derive(OpenApi)]
        #[openapi(paths($($($concept::$handler),+),*))]
        pub struct Operations;
    };
}

operations! {
    // For machines that watch the server.
    "/healthz" { get service::healthz }
    "/readyz" { get service::readyz }
    "/metrics" { get service::metrics }
    "/openapi.json" { get service::openapi }
    // Signing in.
    "/.well-known/jwks.json" { get keys::show }
    "/v1/sessions" { post sessions::start, delete sessions::end }
    "/v1/sessions/refresh" { post sessions::refresh }
    // People and services.
    "/v1/me" { get people::me }
    "/v1/me/password" { post people::change_password }
    "/v1/people" { get people::list, post people::add }
    "/v1/people/{id}" { get people::find, put people::change }
    "/v1/people/{id}/disable" { post people::disable }
    "/v1/people/{id}/enable" { post people::enable }
    "/v1/people/{id}/reset" { post people::reset }
    "/v1/services" { get services::list, post services::add }
    "/v1/services/{id}/revoke" { post services::revoke }
    // What head office sets.
    "/v1/reference/{kind}" { get reference::list }
    "/v1/reference/{kind}/{code}" { get reference::find, put reference::change }
    "/v1/reference/{kind}/{code}/versions" { get reference::versions }
    "/v1/reference/{kind}/{code}/retire" { post reference::retire }
    "/v1/restatements" { post restatements::restate }
    "/v1/tolerance-proposals" { get tolerances::list }
    // Standard pars.
    "/v1/par-sets" { get pars::list }
    "/v1/par-sets/{code}" { get pars::find, put pars::save }
    "/v1/par-sets/{code}/difference" { get pars::difference }
    "/v1/par-sets/{code}/publish" { post pars::publish }
    "/v1/par-publications" { get pars::history }
    "/v1/par-publications/roll-back" { post pars::roll_back }
    "/v1/stores/{store}/pars" { get pars::of_store }
    "/v1/stores/{store}/prep" { get prep::find }
    // Files.
    "/v1/imports" { post imports::add }
    // Stores.
    "/v1/stores" { get stores::list }
    "/v1/stores/{store}" { get stores::find }
    "/v1/stores/{store}/nights/{business_date}/sheet" { get sheet::find }
    // The night.
    "/v1/stores/{store}/nights/{business_date}" { get receipts::read, put nights::submit }
    "/v1/stores/{store}/nights/{business_date}/parts" { post parts::add }
    "/v1/stores/{store}/nights/{business_date}/revisions" { get revisions::list }
    "/v1/stores/{store}/nights/{business_date}/revisions/diff" { get revisions::diff }
    "/v1/stores/{store}/nights/{business_date}/confirmations" { post confirmations::confirm }
    "/v1/stores/{store}/nights/{business_date}/approvals" { post approvals::decide }
    "/v1/stores/{store}/nights/{business_date}/trace" { get trace::read }
    "/v1/stores/{store}/nights/{business_date}/changes" { get changes::of_night }
    // What is recorded through the day, and what tills send.
    "/v1/stores/{store}/entries" { get entries::list, post entries::add }
    "/v1/stores/{store}/entries/{id}/withdraw" { post entries::withdraw }
    "/v1/stores/{store}/till-batches" { get till::list, post till::feed }
    "/v1/stores/{store}/unmapped-codes" { get till::unmapped }
    "/v1/transfers" { get transfers::list }
    // What tallies add up to.
    "/v1/rollups" { get rollups::find }
    "/v1/rollups/changes" { get changes::of_rollup }
    // Which stores to look at.
    "/v1/districts/{district}/review" { get review::read }
    "/v1/districts/{district}/safety" { get safety::list }
    "/v1/findings" { get findings::list }
    "/v1/stores/{store}/findings/{finding}/answers" { post findings::answer }
    "/v1/districts/{district}/calendar" { get calendar::read }
    "/v1/cases" { get cases::list }
    "/v1/shared" { get shared::list }
    "/v1/case-record" { get cases::record }
    "/v1/stores/{store}/cases/{case}" { get cases::read }
    "/v1/stores/{store}/cases/{case}/events" { post cases::add }
    "/v1/stores/{store}/diary" { get diary::list, post diary::add }
    "/v1/stores/{store}/diary/{entry}/withdraw" { post diary::withdraw }
    "/v1/stores/{store}/causes" { get causes::read }
    "/v1/stores/{store}/course" { get course::read }
    // Who read or changed what matters.
    "/v1/audit" { get audit::list }
}

/// Every address of the server.
pub fn routes(config: &mut ServiceConfig) {
    config
        // For people with a browser.
        .route("/", get().to(pages::home::show))
        .route("/problems", get().to(pages::problems::show))
        .configure(operations)
        .default_service(web::to(no_such_address));
}

async fn no_such_address(request: actix_web::HttpRequest) -> Result<String, AppError> {
    Err(AppError::not_found(format!("address {}", request.path())))
}
