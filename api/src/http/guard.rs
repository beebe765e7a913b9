//! What every answer goes through: the time limit, and errors of the framework made problems.

use actix_web::HttpResponse;
use actix_web::body::{BoxBody, MessageBody};
use actix_web::dev::{ServiceRequest, ServiceResponse};
use actix_web::http::header::{self, HeaderName, HeaderValue};
use actix_web::http::{Method, StatusCode};
use actix_web::middleware::Next;
use actix_web::web::Data;
use tracing_actix_web::RequestId;

use crate::app::Deps;
use crate::error::{AppError, Problem};

const REQUEST_ID: HeaderName = HeaderName::from_static("x-request-id");
const PROBLEM: &str = "application/problem+json";

/// The id of a request, as the logs have it.
pub fn request_id(request: &actix_web::HttpRequest) -> String {
    use actix_web::HttpMessage;
    request.extensions().get::<RequestId>().map(ToString::to_string).unwrap_or_default()
}

/// Stops a request that takes too long, names the request in the answer, and makes problems of
/// what the framework answers by itself (405, and bare 4xx).
pub async fn answer(
    request: ServiceRequest,
    next: Next<impl MessageBody + 'static>,
) -> Result<ServiceResponse<BoxBody>, actix_web::Error> {
    let id = request_id(request.request());
    let asked = request.request().clone();
    let limit = request
        .app_data::<Data<Deps>>()
        .map_or(std::time::Duration::from_secs(30), |d| d.config.http.request_timeout);
    let response = match tokio::time::timeout(limit, next.call(request)).await {
        Ok(Ok(response)) => response.map_into_boxed_body(),
        Ok(Err(error)) => ServiceResponse::new(asked, error.error_response()),
        Err(_) => {
            let late = AppError::Timeout(limit.as_secs());
            ServiceResponse::new(asked, actix_web::ResponseError::error_response(&late))
        }
    };
    Ok(finish(as_problem(response), &id).await)
}

/// Gives an error of the framework the shape of ours.
fn as_problem(response: ServiceResponse<BoxBody>) -> ServiceResponse<BoxBody> {
    let ours = response
        .headers()
        .get(header::CONTENT_TYPE)
        .is_some_and(|v| v.as_bytes().starts_with(PROBLEM.as_bytes()));
    let status = response.status();
    if ours || !(status.is_client_error() || status.is_server_error()) {
        return response;
    }
    let (request, old) = response.into_parts();
    let error = match status {
        StatusCode::METHOD_NOT_ALLOWED => AppError::MethodNotAllowed(request.method().to_string()),
        StatusCode::NOT_FOUND => AppError::not_found(format!("address {}", request.path())),
        StatusCode::PAYLOAD_TOO_LARGE => AppError::TooLarge("the body is too large".to_owned()),
        s if s.is_client_error() => {
            AppError::Unreadable(format!("the request cannot be read ({s})"))
        }
        s => AppError::Internal(anyhow::anyhow!("the framework answered {s}")),
    };
    let mut fresh = actix_web::ResponseError::error_response(&error);
    if let Some(allow) = old.headers().get(header::ALLOW) {
        fresh.headers_mut().insert(header::ALLOW, allow.clone());
    }
    ServiceResponse::new(request, fresh)
}

/// Adds the request's id and the headers every answer carries.
async fn finish(response: ServiceResponse<BoxBody>, id: &str) -> ServiceResponse<BoxBody> {
    let is_problem = response
        .headers()
        .get(header::CONTENT_TYPE)
        .is_some_and(|v| v.as_bytes().starts_with(PROBLEM.as_bytes()));
    let mut response = if is_problem { with_id(response, id).await } else { response };
    let stamp = |text: &str| HeaderValue::from_str(text).ok();
    let private = response.request().path().starts_with("/v1");
    let headers = response.headers_mut();
    if let Some(id) = stamp(id) {
        headers.insert(REQUEST_ID, id);
    }
    headers.insert(header::X_CONTENT_TYPE_OPTIONS, HeaderValue::from_static("nosniff"));
    if private && !headers.contains_key(header::CACHE_CONTROL) {
        headers.insert(header::CACHE_CONTROL, HeaderValue::from_static("no-store"));
    }
    response
}

async fn with_id(response: ServiceResponse<BoxBody>, id: &str) -> ServiceResponse<BoxBody> {
    let (request, old) = response.into_parts();
    let (head, body) = old.into_parts();
    let bytes = actix_web::body::to_bytes(body).await.unwrap_or_default();
    let rewritten = match serde_json::from_slice::<Problem>(&bytes) {
        Ok(mut problem) => {
            problem.request_id = Some(id.to_owned());
            serde_json::to_vec(&problem).map_or(bytes.clone(), Into::into)
        }
        Err(_) => bytes,
    };
    // A HEAD request has no body to carry it.
    let body = if request.method() == Method::HEAD { Vec::new().into() } else { rewritten };
    let fresh: HttpResponse<BoxBody> = head.set_body(BoxBody::new(body));
    ServiceResponse::new(request, fresh)
}
