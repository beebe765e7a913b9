//! What writes have in common: the client's id, and the answer that can be given again.

use actix_web::dev::Payload;
use actix_web::http::header::ContentType;
use actix_web::http::{StatusCode, header};
use actix_web::{FromRequest, HttpRequest, HttpResponse};
use parings_core::ids::WriteId;
use std::future::{Ready, ready};
use utoipa::IntoParams;
use utoipa::openapi::Required;
use utoipa::openapi::path::{Parameter, ParameterBuilder, ParameterIn};
use utoipa::openapi::schema::{ObjectBuilder, Type};
use uuid::Uuid;

use crate::app::ground::writes::{Expected, Reply, Write};
use crate::error::AppError;
use crate::http::operation;

/// The header that carries the client's id of a POST.
pub const IDEMPOTENCY_KEY: &str = "Idempotency-Key";

/// The write under the id in the `Idempotency-Key` header of a POST: a UUID, bare or in quotation marks.
/// Missing or of another shape it answers 400, as draft-ietf-httpapi-idempotency-key-header says.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct IdempotencyKey(pub Write);

impl FromRequest for IdempotencyKey {
    type Error = AppError;
    type Future = Ready<Result<Self, AppError>>;

    fn from_request(request: &HttpRequest, _: &mut Payload) -> Self::Future {
        let id = id(request).ok_or_else(|| {
            AppError::Unreadable(format!(
                "this request needs one {IDEMPOTENCY_KEY} header with a UUID made for it"
            ))
        });
        ready(id.and_then(|id| Ok(Self(operation::of(request)?.under(WriteId(id))))))
    }
}

fn id(request: &HttpRequest) -> Option<Uuid> {
    let mut sent = request.headers().get_all(IDEMPOTENCY_KEY);
    let (Some(one), None) = (sent.next(), sent.next()) else { return None };
    one.to_str().ok()?.trim_matches('"').parse().ok()
}

/// The header is described as a text, not as a UUID: generated clients put into headers what they are
/// given, and texts alone go there.
impl IntoParams for IdempotencyKey {
    fn into_params(_: impl Fn() -> Option<ParameterIn>) -> Vec<Parameter> {
        let uuid = ObjectBuilder::new()
            .schema_type(Type::String)
            .pattern(Some("^[0-9a-fA-F]{8}(-[0-9a-fA-F]{4}){3}-[0-9a-fA-F]{12}$"))
            .examples(["018f2f9e-0000-7000-8000-000000000001"]);
        let header = ParameterBuilder::new()
            .name(IDEMPOTENCY_KEY)
            .parameter_in(ParameterIn::Header)
            .required(Required::True)
            .description(Some("The client's own id of this write, a UUID."))
            .schema(Some(uuid));
        vec![header.build()]
    }
}

/// What a PUT expects to find: `If-None-Match: *` or `If-Match`. Neither, or both, answers 428.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Precondition(pub Expected);

impl FromRequest for Precondition {
    type Error = AppError;
    type Future = Ready<Result<Self, AppError>>;

    fn from_request(request: &HttpRequest, _: &mut Payload) -> Self::Future {
        let tags = |name: header::HeaderName| -> Vec<String> {
            let sent = request.headers().get_all(name).filter_map(|value| value.to_str().ok());
            sent.flat_map(|value| value.split(',')).map(|tag| tag.trim().to_owned()).collect()
        };
        let (matches, matches_none) = (tags(header::IF_MATCH), tags(header::IF_NONE_MATCH));
        ready(match (matches.as_slice(), matches_none.as_slice()) {
            ([], []) => Err(AppError::PreconditionRequired),
            ([], [star]) if star == "*" => Ok(Self(Expected::Nothing)),
            ([star], []) if star == "*" => Ok(Self(Expected::Something)),
            (_, []) => Ok(Self(Expected::OneOf(matches))),
            // Both at once say as little as neither.
            _ => Err(AppError::PreconditionRequired),
        })
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
    Ok(response.content_type(ContentType::json()).body(reply.body))
}

#[cfg(test)]
mod tests {
    use actix_web::FromRequest;
    use actix_web::test::TestRequest;

    use super::{IDEMPOTENCY_KEY, Precondition, id};
    use crate::app::ground::writes::Expected;
    use crate::error::AppError;

    fn read(sent: &[&str]) -> bool {
        let mut request = TestRequest::default();
        for value in sent {
            request = request.append_header((IDEMPOTENCY_KEY, *value));
        }
        id(&request.to_http_request()).is_some()
    }

    // draft-ietf-httpapi-idempotency-key-header, section 2.1: a string in quotation marks (read in
    // the draft's repository); many clients leave them out.
    #[test]
    fn one_key_that_is_a_uuid() {
        assert!(read(&["\"8e03978e-40d5-43e8-bc93-6894a57f9324\""]));
        assert!(read(&["8e03978e-40d5-43e8-bc93-6894a57f9324"]));
        assert!(!read(&[]));
        assert!(!read(&[""]));
        assert!(!read(&["42"]));
        assert!(!read(&["8e03978e-40d5-43e8-bc93-6894a57f9324"; 2]));
    }

    #[actix_web::test]
    async fn one_precondition_or_428() {
        async fn read(sent: &[(&'static str, &'static str)]) -> Result<Expected, AppError> {
            let request = sent.iter().fold(TestRequest::default(), |r, h| r.append_header(*h));
            Precondition::extract(&request.to_http_request()).await.map(|read| read.0)
        }
        assert_eq!(read(&[("if-none-match", "*")]).await.unwrap(), Expected::Nothing);
        assert_eq!(read(&[("if-match", "*")]).await.unwrap(), Expected::Something);
        let two = Expected::OneOf(vec!["\"a\"".to_owned(), "W/\"b\"".to_owned()]);
        assert_eq!(read(&[("if-match", "\"a\", W/\"b\"")]).await.unwrap(), two);
        assert_eq!(read(&[("if-match", "\"a\""), ("if-match", "W/\"b\"")]).await.unwrap(), two);
        assert!(matches!(read(&[]).await, Err(AppError::PreconditionRequired)));
        for bad in [&[("if-none-match", "\"a\"")][..], &[("if-match", "*"), ("if-none-match", "*")]]
        {
            assert!(matches!(read(bad).await, Err(AppError::PreconditionRequired)), "{bad:?}");
        }
    }
}
