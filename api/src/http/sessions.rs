//! Signing in and out.

use actix_web::http::header;
use actix_web::web::{Data, Payload};
use actix_web::{FromRequest, HttpRequest, HttpResponse};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

use crate::app::Deps;
use crate::app::signin::sessions::{self, Claim, Visitor};
use crate::context::Caller;
use crate::error::{AppError, Problem};
use crate::http::answers::{Bodied, SignedIn};
use crate::http::body::Body;
use crate::http::{client, guard};

/// What strangers send: a kibibyte or two at most, so that what they begin and do not end stays small.
type Shown<T> = Body<T, 8192>;

/// Who wants to sign in.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct SignIn {
    /// The address on record; upper and lower case are the same.
    #[schema(example = "ada@example.com")]
    pub email: String,
    /// The password as the person types it.
    #[schema(format = Password)]
    pub password: String,
    /// The last `device_token` that this device was given for this address. With it nobody else's wrong
    /// tries keep the device waiting; one that does not hold is as none.
    pub device_token: Option<String>,
}

/// A refresh token, to spend or to end.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct RefreshToken {
    /// As it was given.
    pub refresh_token: String,
}

/// Who is signed in.
#[derive(Serialize, ToSchema)]
pub struct Holder {
    /// The id of the person.
    pub id: Uuid,
    /// The name that the people they work with see.
    pub name: String,
    /// crew, manager, coach, owner or office.
    #[schema(example = "manager")]
    pub role: String,
    /// The codes of the stores, districts or owners of the role.
    pub places: Vec<String>,
}

/// A session of somebody who signed in.
#[derive(Serialize, ToSchema)]
pub struct Session {
    /// To send as `Authorization: Bearer …`.
    pub access_token: String,
    /// Always `Bearer`.
    pub token_type: &'static str,
    /// Seconds until the access token expires.
    pub expires_in: i64,
    /// Gives the next session document, once. Sent again within half a minute it gives the same
    /// refresh token; later the session ends.
    pub refresh_token: String,
    /// Who is signed in.
    pub person: Holder,
    /// To keep on this device, also after signing out, and to send at its next sign-in. Given when
    /// somebody signs in, and not when a session is refreshed.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub device_token: Option<String>,
}

impl From<sessions::Session> for Session {
    fn from(session: sessions::Session) -> Self {
        Self {
            access_token: session.access_token,
            token_type: "Bearer",
            expires_in: session.expires_in_s,
            refresh_token: session.refresh_token,
            person: Holder {
                id: session.person.0,
                name: session.name,
                role: session.role.word().to_owned(),
                places: session.role.places().into_iter().map(str::to_owned).collect(),
            },
            device_token: session.device_token,
        }
    }
}

/// Sign in with an address and a password.
///
/// Being right costs nothing. After some wrong tries of one network address, or of strangers at one
/// account, each further one waits twice as long as the one before, a quarter of an hour at most. A device
/// that sends its `device_token` is held against its own tries alone.
#[utoipa::path(post, path = "/v1/sessions", operation_id = "sign_in", tag = "sessions", security(()), request_body = SignIn,
    responses(
        (status = 201, description = "Signed in", body = Session),
        SignedIn, Bodied,
        (status = 401, description = "Address and password do not belong together, or the account is disabled", body = Problem, content_type = "application/problem+json"),
        (status = 429, description = "Too many wrong tries", body = Problem, content_type = "application/problem+json",
            headers(("Retry-After" = u64, description = "Seconds to wait")))))]
pub async fn start(
    deps: Data<Deps>,
    request: HttpRequest,
    Body(sent): Shown<SignIn>,
) -> Result<HttpResponse, AppError> {
    let visitor =
        Visitor { address: client::address(&request), request_id: guard::request_id(&request) };
    let SignIn { email, password, device_token } = sent;
    let session = sessions::start(&deps, &visitor, Claim { email, password, device_token }).await?;
    Ok(HttpResponse::Created().json(Session::from(session)))
}

/// Spend a refresh token for the next session document.
#[utoipa::path(post, path = "/v1/sessions/refresh", operation_id = "refresh_session", tag = "sessions", security(()), request_body = RefreshToken,
    responses(
        (status = 201, description = "The next access and refresh token", body = Session),
        SignedIn, Bodied,
        (status = 401, description = "The token does not hold; sign in again", body = Problem, content_type = "application/problem+json")))]
pub async fn refresh(
    deps: Data<Deps>,
    request: HttpRequest,
    Body(sent): Shown<RefreshToken>,
) -> Result<HttpResponse, AppError> {
    let id = guard::request_id(&request);
    let session = sessions::refresh(&deps, &sent.refresh_token, &id).await?;
    Ok(HttpResponse::Created().json(Session::from(session)))
}

/// Sign out: end the session of the bearer token and, if there is one, of the refresh token in the body.
/// Its access tokens stop at once.
#[utoipa::path(delete, path = "/v1/sessions", operation_id = "sign_out", tag = "sessions", security((), ("bearer" = [])),
    request_body(content = Option<RefreshToken>, description = "Needed without a bearer token"),
    responses(
        (status = 204, description = "Signed out; also when there was no such session"),
        SignedIn, Bodied,
        (status = 400, description = "The body is not JSON", body = Problem, content_type = "application/problem+json"),
        (status = 401, description = "The bearer token does not hold", body = Problem, content_type = "application/problem+json"),
        (status = 409, description = "A service asks, which has no session", body = Problem, content_type = "application/problem+json"),
        (status = 415, description = "Neither a bearer token nor application/json", body = Problem, content_type = "application/problem+json")))]
pub async fn end(
    deps: Data<Deps>,
    request: HttpRequest,
    payload: Payload,
) -> Result<HttpResponse, AppError> {
    let headers = request.headers();
    let signed_in = headers.contains_key(header::AUTHORIZATION);
    let sent = if headers.contains_key(header::CONTENT_TYPE) || !signed_in {
        let body = Shown::<RefreshToken>::from_request(&request, &mut payload.into_inner());
        Some(body.await?.0)
    } else {
        None
    };
    if signed_in {
        let caller = Caller::extract(&request).await?;
        sessions::end_own(&deps, &caller).await?;
    }
    if let Some(sent) = sent {
        sessions::end(&deps, &sent.refresh_token, &guard::request_id(&request)).await?;
    }
    Ok(HttpResponse::NoContent().finish())
}
