//! What every request and answer goes through: what no address may hold, the time limit, and errors
//! of the framework made problems.

use actix_web::body::{BoxBody, MessageBody};
use actix_web::dev::{ServiceRequest, ServiceResponse};
use actix_web::error::InternalError;
use actix_web::http::header::{self, HeaderName, HeaderValue};
use actix_web::http::{Method, StatusCode};
use actix_web::middleware::Next;
use actix_web::web::Data;
use actix_web::{HttpResponse, ResponseError};
use tracing_actix_web::RequestId;

use crate::app::Deps;
use crate::browser;
use crate::error::{AppError, PROBLEM_MEDIA_TYPE, Problem};
use crate::http::nul;

const REQUEST_ID: HeaderName = HeaderName::from_static("x-request-id");

/// The id of a request, as the logs have it.
pub fn request_id(request: &actix_web::HttpRequest) -> String {
    use actix_web::HttpMessage;
    request.extensions().get::<RequestId>().map(ToString::to_string).unwrap_or_default()
}

/// What the answer to a request needs to know of it. Routing wants the request for itself, so it
/// cannot be kept.
struct Asked {
    id: String,
    method: Method,
    path: String,
}

/// Stops a request that takes too long, names the request in the answer, and makes problems of
/// what the framework answers by itself (405, and bare 4xx).
pub async fn answer(
    mut request: ServiceRequest,
    next: Next<impl MessageBody + 'static>,
) -> Result<ServiceResponse<BoxBody>, actix_web::Error> {
    let asked = Asked {
        id: request_id(request.request()),
        method: request.method().clone(),
        path: request.path().to_owned(),
    };
    let limit = request
        .app_data::<Data<Deps>>()
        .map_or(std::time::Duration::from_secs(30), |d| d.config.http.request_timeout);
    // HEAD is GET whose answer has no body (RFC 9110, section 9.3.2); the connection leaves it out.
    if asked.method == Method::HEAD {
        request.head_mut().method = Method::GET;
    }
    if nul::in_address(request.uri()) {
        let refused = AppError::invalid("", format!("in the address, {}", nul::SAYS));
        return Err(problem(refused, &asked).await);
    }
    match tokio::time::timeout(limit, next.call(request)).await {
        Ok(Ok(response)) => {
            let (request, response) = response.map_into_boxed_body().into_parts();
            Ok(ServiceResponse::new(request, finish(response, &asked).await))
        }
        Ok(Err(error)) => {
            let response = finish(error.error_response(), &asked).await;
            Err(InternalError::from_response(error, response).into())
        }
        Err(_) => Err(problem(AppError::Timeout(limit.as_secs()), &asked).await),
    }
}

async fn problem(error: AppError, asked: &Asked) -> actix_web::Error {
    let response = finish(error.error_response(), asked).await;
    InternalError::from_response(error, response).into()
}

/// Gives an error of the framework the shape of ours.
fn as_problem(response: HttpResponse, asked: &Asked) -> HttpResponse {
    let status = response.status();
    if is_problem(&response) || !(status.is_client_error() || status.is_server_error()) {
        return response;
    }
    let error = match status {
        StatusCode::METHOD_NOT_ALLOWED => AppError::MethodNotAllowed(asked.method.to_string()),
        StatusCode::NOT_FOUND => AppError::not_found(format!("address {}", asked.path)),
        StatusCode::PAYLOAD_TOO_LARGE => AppError::TooLarge("the body is too large".to_owned()),
        s if s.is_client_error() => {
            AppError::Unreadable(format!("the request cannot be read ({s})"))
        }
        s => AppError::Internal(anyhow::anyhow!("the framework answered {s}")),
    };
    let mut fresh = error.error_response();
    if let Some(allow) = response.headers().get(header::ALLOW) {
        fresh.headers_mut().insert(header::ALLOW, allow.clone());
    }
    fresh
}

fn is_problem(response: &HttpResponse) -> bool {
    response
        .headers()
        .get(header::CONTENT_TYPE)
        .is_some_and(|v| v.as_bytes().starts_with(PROBLEM_MEDIA_TYPE.as_bytes()))
}

/// Adds the request's id and the headers every answer carries.
async fn finish(response: HttpResponse, asked: &Asked) -> HttpResponse {
    let mut response = as_problem(response, asked);
    if is_problem(&response) {
        response = with_id(response, asked).await;
    }
    let headers = response.headers_mut();
    if let Ok(id) = HeaderValue::from_str(&asked.id) {
        headers.insert(REQUEST_ID, id);
    }
    browser::protect(headers, &asked.path);
    if asked.path.starts_with("/v1") && !headers.contains_key(header::CACHE_CONTROL) {
        headers.insert(header::CACHE_CONTROL, HeaderValue::from_static("no-store"));
    }
    response
}

async fn with_id(response: HttpResponse, asked: &Asked) -> HttpResponse {
    let (head, body) = response.into_parts();
    let bytes = actix_web::body::to_bytes(body).await.unwrap_or_default();
    let rewritten = match serde_json::from_slice::<Problem>(&bytes) {
        Ok(mut problem) => {
            problem.request_id = Some(asked.id.clone());
            serde_json::to_vec(&problem).map_or(bytes.clone(), Into::into)
        }
        Err(_) => bytes,
    };
    head.set_body(BoxBody::new(rewritten))
}
