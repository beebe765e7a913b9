//! What writes have in common: the client's id, and the answer that can be given again.

use actix_web::dev::Payload;
use actix_web::http::{StatusCode, header};
use actix_web::{FromRequest, HttpRequest, HttpResponse};
use parings_core::ids::WriteId;
use std::future::{Ready, ready};

use crate::app::writes::Reply;
use crate::error::AppError;

/// The header that carries the client's id of a POST.
pub const IDEMPOTENCY_KEY: &str = "Idempotency-Key";

/// The id in the `Idempotency-Key` header of a POST, a UUID, bare or in quotation marks. Missing or
/// of another shape it answers 400, as draft-ietf-httpapi-idempotency-key-header says.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct IdempotencyKey(pub WriteId);

impl FromRequest for IdempotencyKey {
    type Error = AppError;
    type Future = Ready<Result<Self, AppError>>;

    fn from_request(request: &HttpRequest, _: &mut Payload) -> Self::Future {
        let mut sent = request.headers().get_all(IDEMPOTENCY_KEY);
        let id = match (sent.next(), sent.next()) {
            (Some(one), None) => {
                one.to_str().ok().and_then(|text| text.trim_matches('"').parse().ok())
            }
            _ => None,
        };
        ready(id.map(|id| Self(WriteId(id))).ok_or_else(|| {
            AppError::Unreadable(format!(
                "this request needs one {IDEMPOTENCY_KEY} header with a UUID made for it"
            ))
        }))
    }
}

/// Sends the answer of a write.
///
/// # Errors
/// When the status is none.
pub fn send(reply: Reply) -> Result<HttpResponse, AppError> {
    let status = StatusCode::from_u16(reply.status).map_err(|e| AppError::Internal(e.into()))?;
    let mut response = HttpResponse::build(status);
    if let Some(etag) = reply.etag {
        response.insert_header((header::ETAG, etag));
    }
    Ok(response.json(reply.body))
}

#[cfg(test)]
mod tests {
    use actix_web::FromRequest;
    use actix_web::test::TestRequest;

    use super::{IDEMPOTENCY_KEY, IdempotencyKey};

    async fn read(sent: &[&str]) -> bool {
        let mut request = TestRequest::default();
        for value in sent {
            request = request.append_header((IDEMPOTENCY_KEY, *value));
        }
        IdempotencyKey::extract(&request.to_http_request()).await.is_ok()
    }

    // draft-ietf-httpapi-idempotency-key-header, section 2.1: a string in quotation marks (read in
    // the draft's repository); many clients leave them out.
    #[actix_web::test]
    async fn one_key_that_is_a_uuid() {
        assert!(read(&["\"8e03978e-40d5-43e8-bc93-6894a57f9324\""]).await);
        assert!(read(&["8e03978e-40d5-43e8-bc93-6894a57f9324"]).await);
        assert!(!read(&[]).await);
        assert!(!read(&[""]).await);
        assert!(!read(&["42"]).await);
        assert!(!read(&["8e03978e-40d5-43e8-bc93-6894a57f9324"; 2]).await);
    }
}
