//! The index of the API: every address, grouped by concept.

pub mod amount;
pub mod approvals;
pub mod audit;
pub mod body;
pub mod calendar;
pub mod caller;
pub mod cases;
pub mod causes;
pub mod changes;
pub mod checks;
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
        // Signing in.
        .service(web::resource("/.well-known/jwks.json").route(get().to(keys::show)))
        .service(
            web::resource("/v1/sessions")
                .route(post().to(sessions::start))
                .route(delete().to(sessions::end)),
        )
        .service(web::resource("/v1/sessions/refresh").route(post().to(sessions::refresh)))
        // People and services.
        .service(web::resource("/v1/me").route(get().to(people::me)))
        .service(
            web::resource("/v1/people").route(get().to(people::list)).route(post().to(people::add)),
        )
        .service(
            web::resource("/v1/people/{id}")
                .route(get().to(people::find))
                .route(put().to(people::change)),
        )
        .service(web::resource("/v1/people/{id}/disable").route(post().to(people::disable)))
        .service(web::resource("/v1/people/{id}/enable").route(post().to(people::enable)))
        .service(web::resource("/v1/people/{id}/reset").route(post().to(people::reset)))
        .service(
            web::resource("/v1/services")
                .route(get().to(services::list))
                .route(post().to(services::add)),
        )
        .service(web::resource("/v1/services/{id}/revoke").route(post().to(services::revoke)))
        // What head office sets.
        .service(web::resource("/v1/reference/{kind}").route(get().to(reference::list)))
        .service(
            web::resource("/v1/reference/{kind}/{code}")
                .route(get().to(reference::find))
                .route(put().to(reference::change)),
        )
        .service(
            web::resource("/v1/reference/{kind}/{code}/versions")
                .route(get().to(reference::versions)),
        )
        .service(
            web::resource("/v1/reference/{kind}/{code}/retire").route(post().to(reference::retire)),
        )
        .service(web::resource("/v1/restatements").route(post().to(restatements::restate)))
        .service(web::resource("/v1/tolerance-proposals").route(get().to(tolerances::list)))
        // Standard pars.
        .service(web::resource("/v1/par-sets").route(get().to(pars::list)))
        .service(
            web::resource("/v1/par-sets/{code}")
                .route(get().to(pars::find))
                .route(put().to(pars::save)),
        )
        .service(web::resource("/v1/par-sets/{code}/difference").route(get().to(pars::difference)))
        .service(web::resource("/v1/par-sets/{code}/publish").route(post().to(pars::publish)))
        .service(web::resource("/v1/par-publications").route(get().to(pars::history)))
        .service(web::resource("/v1/par-publications/roll-back").route(post().to(pars::roll_back)))
        .service(web::resource("/v1/stores/{store}/pars").route(get().to(pars::of_store)))
        .service(web::resource("/v1/stores/{store}/prep").route(get().to(prep::find)))
        // Files.
        .service(web::resource("/v1/imports").route(post().to(imports::add)))
        // Stores.
        .service(web::resource("/v1/stores").route(get().to(stores::list)))
        .service(web::resource("/v1/stores/{store}").route(get().to(stores::find)))
        .service(
            web::resource("/v1/stores/{store}/nights/{business_date}/sheet")
                .route(get().to(sheet::find)),
        )
        // The night.
        .service(
            web::resource("/v1/stores/{store}/nights/{business_date}")
                .route(get().to(receipts::read))
                .route(put().to(nights::submit)),
        )
        .service(
            web::resource("/v1/stores/{store}/nights/{business_date}/parts")
                .route(post().to(parts::add)),
        )
        .service(
            web::resource("/v1/stores/{store}/nights/{business_date}/revisions")
                .route(get().to(revisions::list)),
        )
        .service(
            web::resource("/v1/stores/{store}/nights/{business_date}/revisions/diff")
                .route(get().to(revisions::diff)),
        )
        .service(
            web::resource("/v1/stores/{store}/nights/{business_date}/confirmations")
                .route(post().to(confirmations::confirm)),
        )
        .service(
            web::resource("/v1/stores/{store}/nights/{business_date}/approvals")
                .route(post().to(approvals::decide)),
        )
        .service(
            web::resource("/v1/stores/{store}/nights/{business_date}/trace")
                .route(get().to(trace::read)),
        )
        .service(
            web::resource("/v1/stores/{store}/nights/{business_date}/changes")
                .route(get().to(changes::of_night)),
        )
        // What is recorded through the day, and what tills send.
        .service(
            web::resource("/v1/stores/{store}/entries")
                .route(get().to(entries::list))
                .route(post().to(entries::add)),
        )
        .service(
            web::resource("/v1/stores/{store}/entries/{id}/withdraw")
                .route(post().to(entries::withdraw)),
        )
        .service(
            web::resource("/v1/stores/{store}/till-batches")
                .route(get().to(till::list))
                .route(post().to(till::feed)),
        )
        .service(web::resource("/v1/stores/{store}/unmapped-codes").route(get().to(till::unmapped)))
        .service(web::resource("/v1/transfers").route(get().to(transfers::list)))
        // What tallies add up to.
        .service(web::resource("/v1/rollups").route(get().to(rollups::find)))
        .service(web::resource("/v1/rollups/changes").route(get().to(changes::of_rollup)))
        // Which stores to look at.
        .service(web::resource("/v1/districts/{district}/review").route(get().to(review::read)))
        .service(web::resource("/v1/districts/{district}/safety").route(get().to(safety::list)))
        .service(web::resource("/v1/findings").route(get().to(findings::list)))
        .service(
            web::resource("/v1/stores/{store}/findings/{finding}/answers")
                .route(post().to(findings::answer)),
        )
        .service(web::resource("/v1/districts/{district}/calendar").route(get().to(calendar::read)))
        .service(web::resource("/v1/cases").route(get().to(cases::list)))
        .service(web::resource("/v1/shared").route(get().to(shared::list)))
        .service(web::resource("/v1/case-record").route(get().to(cases::record)))
        .service(web::resource("/v1/stores/{store}/cases/{case}").route(get().to(cases::read)))
        .service(
            web::resource("/v1/stores/{store}/cases/{case}/events").route(post().to(cases::add)),
        )
        .service(
            web::resource("/v1/stores/{store}/diary")
                .route(get().to(diary::list))
                .route(post().to(diary::add)),
        )
        .service(
            web::resource("/v1/stores/{store}/diary/{entry}/withdraw")
                .route(post().to(diary::withdraw)),
        )
        .service(web::resource("/v1/stores/{store}/causes").route(get().to(causes::read)))
        .service(web::resource("/v1/stores/{store}/course").route(get().to(course::read)))
        // Who read or changed what matters.
        .service(web::resource("/v1/audit").route(get().to(audit::list)))
        .default_service(web::to(no_such_address));
}

async fn no_such_address(request: actix_web::HttpRequest) -> Result<String, AppError> {
    Err(AppError::not_found(format!("address {}", request.path())))
}
