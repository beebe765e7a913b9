//! What a body must be before anything is done with it, whatever the operation: here two that
//! answer with what they read, behind the server's own guard.

use actix_web::http::{Method, header};
use actix_web::middleware::from_fn;
use actix_web::web::{self, Data, Json};
use actix_web::{App, test};
use parings::http::body::{Body, Room};
use parings::http::guard;
use parings::telemetry::RequestSpan;
use parings_tests::house::{House, house};
use serde_json::{Value, json};
use tracing_actix_web::TracingLogger;

async fn numbers(Body(numbers): Body<Vec<Option<i64>>>) -> Json<Value> {
    Json(json!(numbers))
}

async fn anything(Body(anything): Body<Value>) -> Json<Value> {
    Json(anything)
}

async fn send(
    house: &House,
    path: &str,
    media: Option<&str>,
    body: impl Into<web::Bytes>,
) -> (u16, Value) {
    let app = App::new()
        .app_data(Data::new(house.deps.clone()))
        .app_data(Data::new(Room::new(house.deps.config.http.body_room)))
        .wrap(from_fn(guard::answer))
        .wrap(TracingLogger::<RequestSpan>::new())
        .service(web::resource("/numbers").route(web::post().to(numbers)))
        .service(web::resource("/anything").route(web::post().to(anything)));
    let app = test::init_service(app).await;
    let mut request = test::TestRequest::with_uri(path).method(Method::POST).set_payload(body);
    if let Some(media) = media {
        request = request.insert_header((header::CONTENT_TYPE, media));
    }
    let response = test::call_service(&app, request.to_request()).await;
    let (status, id) = (response.status().as_u16(), response.headers().get("x-request-id"));
    let id = id.and_then(|id| id.to_str().ok()).expect("a request id").to_owned();
    let answer: Value = test::read_body_json(response).await;
    assert!(status == 200 || answer["request_id"] == id, "{status} {answer}");
    (status, answer)
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn json_is_taken_whatever_its_media_type_adds() {
    let house = house().await;
    for media in ["application/json", "Application/JSON; charset=utf-8"] {
        let answered = send(&house, "/numbers", Some(media), "[1, null, -7]").await;
        assert_eq!(answered, (200, json!([1, null, -7])), "{media}");
    }
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_body_that_cannot_be_read_is_refused_by_kind() {
    let house = house().await;
    let json = Some("application/json");
    // serde_json stops at 128 levels, so a body cannot overflow the stack. Read in its documentation.
    let deep = "[".repeat(100_000);
    let long = format!("[{}1]", "1,".repeat(house.deps.config.http.body_limit / 2));
    for (what, media, body, status, kind) in [
        ("not JSON", json, "[1,", 400, "unreadable"),
        ("nothing", json, "", 400, "unreadable"),
        ("more than one value", json, "[1] [2]", 400, "unreadable"),
        ("a character that begins nothing", json, "\u{fffd}", 400, "unreadable"),
        ("too deep", json, deep.as_str(), 400, "unreadable"),
        ("too long", json, long.as_str(), 413, "too-large"),
        ("another media type", Some("text/plain"), "[1]", 415, "unsupported-media-type"),
        ("a media type like it", Some("application/jsonp"), "[1]", 415, "unsupported-media-type"),
        ("no media type", None, "[1]", 415, "unsupported-media-type"),
    ] {
        let (answered, problem) = send(&house, "/anything", media, body.to_owned()).await;
        assert_eq!((answered, &problem["status"]), (status, &json!(status)), "{what}: {problem}");
        assert_eq!(problem["type"], format!("/problems#{kind}"), "{what}");
    }
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn json_of_another_shape_is_refused_with_the_place() {
    let house = house().await;
    let json = Some("application/json");
    for (body, pointer) in [("[1, 2, \"three\"]", "/2"), ("{}", ""), ("[1.5]", "/0")] {
        let (status, problem) = send(&house, "/numbers", json, body).await;
        assert_eq!(status, 422, "{body}: {problem}");
        assert_eq!(problem["type"], "/problems#invalid", "{body}");
        assert_eq!(problem["errors"][0]["pointer"], pointer, "{body}: {problem}");
    }
}

/// PostgreSQL's text and jsonb keep every character but U+0000 (its documentation of character
/// types and of JSON types, from memory), so it is refused before it gets there.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn the_character_that_no_text_keeps_is_refused() {
    let house = house().await;
    let json = Some("application/json");
    for body in [r#""a\u0000b""#, r#"{"\u0000": 1}"#, r#""\\\u0000""#] {
        let (status, problem) = send(&house, "/anything", json, body).await;
        assert_eq!(status, 422, "{body}: {problem}");
        assert_eq!(problem["type"], "/problems#invalid", "{body}");
    }
    let (status, answer) = send(&house, "/anything", json, r#""a\\u0000""#).await;
    assert_eq!((status, answer), (200, json!(r"a\u0000")), "a backslash and five characters");
}
