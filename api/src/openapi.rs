//! The API document: made from the handlers, committed as `api/openapi.json`, compared by a test.

use utoipa::openapi::security::{HttpAuthScheme, HttpBuilder, SecurityScheme};
use utoipa::{Modify, OpenApi};
use utoipa_swagger_ui::{Config, SwaggerUi};

use crate::http;

#[derive(OpenApi)]
#[openapi(
    info(
        title = "Parings",
        description = "Nightly counts, waste, usage and roll-ups for chains of quick-service kitchens.",
        license(name = "Apache-2.0", identifier = "Apache-2.0"),
    ),
    paths(
        http::service::healthz,
        http::service::readyz,
        http::service::metrics,
        http::service::openapi,
        http::keys::show,
        http::sessions::start,
        http::sessions::refresh,
        http::sessions::end,
        http::people::me,
        http::people::list,
        http::people::find,
        http::people::add,
        http::people::change,
        http::people::disable,
        http::people::enable,
        http::people::reset,
        http::services::list,
        http::services::add,
        http::services::revoke,
        http::reference::list,
        http::reference::find,
        http::reference::change,
        http::reference::versions,
        http::reference::retire,
        http::restatements::restate,
        http::tolerances::list,
        http::pars::list,
        http::pars::find,
        http::pars::save,
        http::pars::difference,
        http::pars::publish,
        http::pars::history,
        http::pars::roll_back,
        http::pars::of_store,
        http::prep::find,
        http::stores::list,
        http::stores::find,
        http::sheet::find,
        http::nights::submit,
    http::parts::add,
        http::receipts::read,
        http::revisions::list,
        http::revisions::diff,
        http::confirmations::confirm,
        http::approvals::decide,
        http::trace::read,
        http::changes::of_night,
        http::entries::list,
        http::entries::add,
        http::entries::withdraw,
        http::imports::add,
        http::till::list,
        http::till::feed,
        http::till::unmapped,
        http::transfers::list,
        http::rollups::find,
        http::changes::of_rollup,
        http::review::read,
        http::course::read,
        http::findings::list,
        http::findings::answer,
        http::cases::list,
        http::cases::record,
        http::shared::list,
        http::cases::read,
        http::cases::add,
        http::calendar::read,
        http::safety::list,
        http::causes::read,
        http::diary::list,
        http::diary::add,
        http::diary::withdraw,
        http::audit::list,
    ),
    tags(
        (name = "sessions", description = "Signing in and out."),
        (name = "people", description = "People and services, and what they may do where."),
        (name = "reference", description = "What head office sets: documents in force from a business date on."),
        (name = "stores", description = "Stores, and the sheets they count by."),
        (name = "nights", description = "The closing count of a night and what it means."),
        (name = "entries", description = "What is recorded through the day."),
        (name = "till", description = "Sales and tickets that tills send."),
        (name = "pars", description = "What should be ready when a daypart begins, and what is to be prepared for it."),
        (name = "files", description = "Histories that head office brings in as files."),
        (name = "rollups", description = "What tallies add up to, for any scope and span."),
        (name = "review", description = "Which stores to look at, and why."),
        (name = "service", description = "For machines that watch the server."),
    ),
    modifiers(&Bearer),
    security(("bearer" = [])),
)]
struct ApiDoc;

struct Bearer;

impl Modify for Bearer {
    fn modify(&self, document: &mut utoipa::openapi::OpenApi) {
        let scheme = HttpBuilder::new().scheme(HttpAuthScheme::Bearer).build();
        document
            .components
            .get_or_insert_default()
            .add_security_scheme("bearer", SecurityScheme::Http(scheme));
    }
}

/// The document as indented JSON.
pub fn document() -> String {
    ApiDoc::openapi().to_pretty_json().unwrap_or_default()
}

/// The page that shows the document and lets people try it. Nothing of it comes from elsewhere:
/// the badge of a checker on the internet is switched off.
pub fn page() -> SwaggerUi {
    SwaggerUi::new("/docs/{_:.*}")
        .url("/docs/openapi.json", ApiDoc::openapi())
        .config(Config::default().validator_url("none"))
}
