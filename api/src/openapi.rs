//! The API document: made from the handlers, committed as `api/openapi.json`, compared by a test.

use std::mem;

use utoipa::openapi::schema::{AdditionalProperties, ArrayItems, Schema};
use utoipa::openapi::security::{HttpAuthScheme, HttpBuilder, SecurityScheme};
use utoipa::openapi::{Ref, RefOr};
use utoipa::{Modify, OpenApi};
use utoipa_swagger_ui::{Config, SwaggerUi};

use crate::error::Problem;
use crate::http;

#[derive(OpenApi)]
#[openapi(
    info(
        title = "Parings",
        description = "Nightly counts, waste, usage and roll-ups for chains of quick-service kitchens.",
        license(name = "Apache-2.0", identifier = "Apache-2.0"),
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
    components(schemas(Problem)),
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

/// `Page_CaseBody` is a page of `CaseBody`, and the derive writes out in place what a generic type
/// holds. This makes it a schema of its own again, so that a generated client has one type for it.
struct Held;

impl Modify for Held {
    fn modify(&self, document: &mut utoipa::openapi::OpenApi) {
        let schemas = &mut document.components.get_or_insert_default().schemas;
        let mut apart = Vec::new();
        for (name, schema) in schemas.iter_mut() {
            let (Some((_, held)), RefOr::T(Schema::Object(whole))) = (name.split_once('_'), schema)
            else {
                continue;
            };
            for property in whole.properties.values_mut() {
                let place = match property {
                    RefOr::T(Schema::Array(list)) => match &mut list.items {
                        ArrayItems::RefOrSchema(item) => item.as_mut(),
                        ArrayItems::False => continue,
                    },
                    property => property,
                };
                if matches!(place, RefOr::T(Schema::Object(it)) if !it.properties.is_empty()) {
                    let written = mem::replace(place, Ref::from_schema_name(held).into());
                    apart.push((held.to_owned(), written));
                }
            }
        }
        schemas.extend(apart);
    }
}

/// When something was sold is said in one way: the derive leaves open that an object says it in two, which
/// cannot be read.
struct OneWay;

impl Modify for OneWay {
    fn modify(&self, document: &mut utoipa::openapi::OpenApi) {
        let schemas = &mut document.components.get_or_insert_default().schemas;
        let Some(RefOr::T(Schema::OneOf(ways))) = schemas.get_mut("WhenBody") else { return };
        for way in &mut ways.items {
            if let RefOr::T(Schema::Object(way)) = way
                && !way.properties.is_empty()
            {
                way.additional_properties = Some(Box::new(AdditionalProperties::FreeForm(false)));
            }
        }
    }
}

fn whole() -> utoipa::openapi::OpenApi {
    let mut document = ApiDoc::openapi();
    document.merge(http::Operations::openapi());
    Held.modify(&mut document);
    OneWay.modify(&mut document);
    document
}

/// The document as indented JSON.
pub fn document() -> String {
    whole().to_pretty_json().unwrap_or_default()
}

/// The page that shows the document and lets people try it. Nothing of it comes from elsewhere:
/// the badge of a checker on the internet is switched off.
pub fn page() -> SwaggerUi {
    SwaggerUi::new("/docs/{_:.*}")
        .url("/docs/openapi.json", whole())
        .config(Config::default().validator_url("none"))
}
