//! What request a write comes with, as it is kept with the write: its method and full path, such as
//! `PUT /v1/stores/mill/nights/2026-06-01`.

use std::future::{Ready, ready};

use actix_web::dev::Payload;
use actix_web::web::Path;
use actix_web::{FromRequest, HttpRequest};
use chrono::NaiveDate;
use parings_core::calendar::BusinessDate;
use uuid::Uuid;

use crate::app::ground::writes::Operation;
use crate::error::AppError;

/// Parts of paths that are dates; a test compares them with the API document.
const DATES: &[&str] = &["business_date"];
/// Parts of paths that are UUIDs.
const UUIDS: &[&str] = &["id", "finding", "case", "entry"];

impl FromRequest for Operation {
    type Error = AppError;
    type Future = Ready<Result<Self, AppError>>;

    fn from_request(request: &HttpRequest, _: &mut Payload) -> Self::Future {
        ready(of(request))
    }
}

/// However a client spells a path (escapes, a UUID in capitals, a date without its zeros), it is kept in
/// one spelling: that of the values that the handler reads. What is no value is left to the handler.
///
/// # Errors
/// When the request has no address of the index, or its path cannot be read.
pub fn of(request: &HttpRequest) -> Result<Operation, AppError> {
    let address = request.match_pattern();
    let address = address.ok_or_else(|| anyhow::anyhow!("{} is no address", request.path()))?;
    let read = Path::<Vec<String>>::extract(request).into_inner();
    let values = read.map_err(|e| AppError::Unreadable(e.to_string()))?.into_inner();
    let mut values = values.iter();
    let part = |part: &str| match part.strip_prefix('{').and_then(|p| p.strip_suffix('}')) {
        Some(name) => spelled(name, values.next().map_or("", String::as_str)),
        None => part.to_owned(),
    };
    let path: Vec<String> = address.split('/').map(part).collect();
    Ok(Operation(format!("{} {}", request.method(), path.join("/"))))
}

fn spelled(name: &str, text: &str) -> String {
    let spelled = if DATES.contains(&name) {
        text.parse::<NaiveDate>().ok().map(|date| BusinessDate::from(date).to_string())
    } else if UUIDS.contains(&name) {
        text.parse::<Uuid>().ok().map(|id| id.to_string())
    } else {
        None
    };
    spelled.unwrap_or_else(|| text.to_owned())
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;

    use actix_web::test::{TestRequest, call_and_read_body, init_service};
    use actix_web::{App, web};
    use serde_json::Value;
    use utoipa::OpenApi;

    use super::{DATES, Operation, UUIDS};
    use crate::http::Operations;

    async fn kept(address: &'static str, sent: TestRequest) -> String {
        let show = async |operation: Operation| operation.0;
        let app = init_service(App::new().service(web::resource(address).to(show))).await;
        let body = call_and_read_body(&app, sent.to_request()).await;
        String::from_utf8(body.to_vec()).unwrap()
    }

    #[actix_web::test]
    async fn a_path_is_kept_in_one_spelling() {
        let night = "/v1/stores/{store}/nights/{business_date}";
        for sent in ["mill/nights/2026-06-01", "%6Dill/nights/2026%2D06-01", "mill/nights/2026-6-1"]
        {
            let put = TestRequest::put().uri(&format!("/v1/stores/{sent}"));
            assert_eq!(kept(night, put).await, "PUT /v1/stores/mill/nights/2026-06-01", "{sent}");
        }
        let withdraw = "/v1/stores/{store}/entries/{id}/withdraw";
        let id = "018f2f9e-0000-7abc-8000-0000000000ef";
        let expected = format!("POST /v1/stores/mill/entries/{id}/withdraw");
        for sent in [id.to_owned(), id.to_uppercase(), id.replace('-', "")] {
            let post = TestRequest::post().uri(&format!("/v1/stores/mill/entries/{sent}/withdraw"));
            assert_eq!(kept(withdraw, post).await, expected, "{sent}");
        }
        // A code that looks like a UUID is a code all the same.
        let code = id.replace('-', "");
        let put = TestRequest::put().uri(&format!("/v1/par-sets/{code}?x=1"));
        assert_eq!(kept("/v1/par-sets/{code}", put).await, format!("PUT /v1/par-sets/{code}"));
    }

    #[test]
    fn every_date_and_uuid_in_the_path_of_a_write_is_known() {
        let document = serde_json::to_value(Operations::openapi()).unwrap();
        let mut found: [BTreeSet<String>; 2] = Default::default();
        let methods = document["paths"].as_object().unwrap().values();
        for operation in methods.flat_map(|of| of.as_object().unwrap()) {
            let (method, operation) = operation;
            let parameters = operation["parameters"].as_array().into_iter().flatten();
            let in_path = parameters.filter(|p| p["in"] == "path" && method != "get");
            for parameter in in_path {
                let name = parameter["name"].as_str().unwrap().to_owned();
                match &parameter["schema"]["format"] {
                    Value::String(format) if format == "date" => found[0].insert(name),
                    Value::String(format) if format == "uuid" => found[1].insert(name),
                    _ => continue,
                };
            }
        }
        let known = [DATES, UUIDS].map(|all| all.iter().map(|name| (*name).to_owned()).collect());
        assert_eq!(found, known);
    }
}
