//! The public halves of the signing keys, for whoever verifies access tokens.

use actix_web::HttpResponse;
use actix_web::http::header;
use actix_web::web::Data;
use serde::Serialize;
use utoipa::ToSchema;

use crate::app::Deps;

/// Public keys (RFC 7517).
#[derive(Serialize, ToSchema)]
pub struct KeySet {
    /// Each a JSON Web Key of the type OKP (RFC 8037).
    #[schema(value_type = Vec<Object>)]
    pub keys: Vec<jsonwebtoken::jwk::Jwk>,
}

/// The keys that verify access tokens.
#[utoipa::path(get, path = "/.well-known/jwks.json", operation_id = "read_keys", tag = "sessions", security(()),
    responses((status = 200, description = "Public keys", body = KeySet)))]
pub async fn show(deps: Data<Deps>) -> HttpResponse {
    HttpResponse::Ok()
        .insert_header((header::CACHE_CONTROL, "public, max-age=300"))
        .json(KeySet { keys: deps.signin.keys.public().keys })
}
