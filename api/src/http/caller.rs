//! Who is asking.

use actix_web::dev::Payload;
use actix_web::http::header;
use actix_web::web::Data;
use actix_web::{FromRequest, HttpRequest};
use futures::future::LocalBoxFuture;

use crate::app::Deps;
use crate::app::signin::sessions;
use crate::context::Caller;
use crate::error::AppError;
use crate::http::guard;

/// From `Authorization: Bearer …`: an access token, or what a service shows. Without it, 401. What
/// the caller may do is decided when their transaction begins.
impl FromRequest for Caller {
    type Error = AppError;
    type Future = LocalBoxFuture<'static, Result<Self, AppError>>;

    fn from_request(request: &HttpRequest, _: &mut Payload) -> Self::Future {
        let request = request.clone();
        Box::pin(async move {
            let bearer = bearer(&request)
                .ok_or_else(|| AppError::Unauthenticated("this needs a bearer token".to_owned()))?;
            let deps = request
                .app_data::<Data<Deps>>()
                .ok_or_else(|| AppError::Internal(anyhow::anyhow!("the server has no state")))?;
            sessions::identify(deps, bearer, guard::request_id(&request)).await
        })
    }
}

/// The credentials of exactly one `Authorization` header; the scheme's case does not matter
/// (RFC 9110, section 11.1).
fn bearer(request: &HttpRequest) -> Option<&str> {
    let mut sent = request.headers().get_all(header::AUTHORIZATION);
    let (Some(one), None) = (sent.next(), sent.next()) else { return None };
    let (scheme, credentials) = one.to_str().ok()?.split_once(' ')?;
    scheme.eq_ignore_ascii_case("bearer").then(|| credentials.trim())
}

#[cfg(test)]
mod tests {
    use actix_web::http::header::AUTHORIZATION;
    use actix_web::test::TestRequest;

    use super::bearer;

    #[test]
    fn one_header_of_the_bearer_scheme() {
        let with = |values: &[&str]| {
            let request = values
                .iter()
                .fold(TestRequest::default(), |r, v| r.append_header((AUTHORIZATION, *v)))
                .to_http_request();
            bearer(&request).map(str::to_owned)
        };
        assert_eq!(with(&["Bearer abc"]).as_deref(), Some("abc"));
        assert_eq!(with(&["bearer abc"]).as_deref(), Some("abc"));
        assert_eq!(with(&[]), None);
        assert_eq!(with(&["abc"]), None);
        assert_eq!(with(&["Basic abc"]), None);
        assert_eq!(with(&["Bearer abc", "Bearer abd"]), None);
    }
}
