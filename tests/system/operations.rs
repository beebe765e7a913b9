//! Every operation of the API document, called by nobody in particular.

use parings_core::access::Role;
use parings_tests::house::{Sending, house};
use reqwest::Method;
use serde_json::{Value, json};

/// Operations that anybody may call.
const PUBLIC: &[&str] = &[
    "GET /.well-known/jwks.json",
    "GET /healthz",
    "GET /metrics",
    "GET /openapi.json",
    "GET /readyz",
    "DELETE /v1/sessions",
    "POST /v1/sessions",
    "POST /v1/sessions/refresh",
];

struct Operation {
    method: Method,
    /// As in the document, with names in braces.
    template: String,
    /// With examples in their place.
    path: String,
    public: bool,
    takes_json: bool,
}

fn operations() -> Vec<Operation> {
    let document: Value = serde_json::from_str(&parings::openapi::document()).expect("JSON");
    let mut found = Vec::new();
    for (template, item) in document["paths"].as_object().expect("paths") {
        for (method, operation) in item.as_object().expect("operations") {
            if method == "parameters" {
                continue;
            }
            let security = operation.get("security").unwrap_or(&document["security"]);
            let open = |needed: &Value| needed.as_object().is_some_and(serde_json::Map::is_empty);
            let needed = security.as_array().expect("security is a list");
            let parameters = [&item["parameters"], &operation["parameters"]];
            let parameters = parameters.into_iter().filter_map(Value::as_array).flatten();
            let mut path = template.clone();
            for parameter in parameters.filter(|p| p["in"] == "path") {
                let name = parameter["name"].as_str().expect("a name");
                path = path.replace(&format!("{{{name}}}"), &example(parameter, &document));
            }
            assert!(!path.contains('{'), "{template}: a name without a parameter");
            found.push(Operation {
                method: method.to_uppercase().parse().expect("a method"),
                template: template.clone(),
                path,
                public: needed.is_empty() || needed.iter().any(open),
                takes_json: operation["requestBody"]["content"].get("application/json").is_some(),
            });
        }
    }
    found
}

fn example(parameter: &Value, document: &Value) -> String {
    let mut schema = &parameter["schema"];
    if let Some(reference) = schema["$ref"].as_str() {
        schema = document.pointer(reference.trim_start_matches('#')).expect("a schema");
    }
    let given = [&parameter["example"], &schema["example"], &schema["examples"][0]];
    if let Some(given) = given.into_iter().find(|given| !given.is_null()) {
        return given.as_str().map_or_else(|| given.to_string(), str::to_owned);
    }
    match (schema["type"].as_str(), schema["format"].as_str()) {
        (_, Some("uuid")) => "018f2f9e-0000-7000-8000-000000000001".to_owned(),
        (_, Some("date")) => "2026-06-14".to_owned(),
        (Some("integer"), _) => "1".to_owned(),
        _ => "mill-lane".to_owned(),
    }
}

/// Method and template of every operation that is not public, in the order of the document.
pub fn that_ask_who_is_calling() -> Vec<String> {
    let asking = operations().into_iter().filter(|o| !o.public);
    asking.map(|o| format!("{} {}", o.method, o.template)).collect()
}

#[test]
fn only_the_named_operations_are_public() {
    let public: Vec<String> = operations()
        .iter()
        .filter(|o| o.public)
        .map(|o| format!("{} {}", o.method, o.template))
        .collect();
    assert_eq!(public, PUBLIC);
}

/// A 401 also shows that the operation is there: an unknown address is a 404, a method the
/// address does not take a 405.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn every_other_operation_asks_who_is_calling() {
    let house = house().await;
    let empty = json!({});
    for operation in operations().into_iter().filter(|o| !o.public) {
        for token in [None, Some("nobody"), Some("a.b.c")] {
            let json = operation.takes_json.then_some(&empty);
            let sending = Sending { token, json, headers: &[] };
            let reply = house.send(operation.method.clone(), &operation.path, sending).await;
            reply.expect_problem(401, "unauthenticated");
            assert!(reply.header("www-authenticate").starts_with("Bearer"), "{}", reply.asked);
        }
    }
}

/// PostgreSQL keeps every character in its texts but U+0000 (its documentation of character types, from
/// memory): in an address it is refused before anything is looked up.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn the_character_that_no_text_keeps_is_refused_in_every_address() {
    let house = house().await;
    let office = house.person(Role::Office).await;
    for operation in operations() {
        for address in [format!("{}%00", operation.path), format!("{}?after=%00", operation.path)] {
            let sending = Sending { token: Some(&office.token), ..Sending::default() };
            let reply = house.send(operation.method.clone(), &address, sending).await;
            reply.expect_problem(422, "invalid");
            assert!(
                reply.json["errors"][0]["detail"].as_str().is_some_and(|d| d.contains("U+0000"))
            );
        }
    }
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn every_public_operation_is_there_for_nobody_in_particular() {
    let house = house().await;
    for operation in operations().into_iter().filter(|o| o.public && o.method == Method::GET) {
        house.get(&operation.path, None).await.expect(200);
    }
}
