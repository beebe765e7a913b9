//! What browsers are told with every answer: what a page may load, who may show it in a frame, and that
//! the next page is not told of this one.

use std::sync::LazyLock;

use actix_web::http::header::{
    CONTENT_SECURITY_POLICY, HeaderMap, HeaderValue, REFERRER_POLICY, X_CONTENT_TYPE_OPTIONS,
};
use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use sha2::{Digest, Sha256};

/// The style of our pages, which stands in each of them.
pub const STYLE: &str = include_str!("../assets/plain.css");

/// Our pages load nothing, and have no style but ours; other answers load nothing either.
static NOTHING: LazyLock<HeaderValue> = LazyLock::new(|| {
    let style = STANDARD.encode(Sha256::digest(STYLE));
    policy(&format!("style-src 'sha256-{style}'"))
});

/// The page that shows the API is made of scripts, and asks this server what it answers. Its style sheet
/// holds pictures, and its scripts write styles into the page.
static DOCS: LazyLock<HeaderValue> = LazyLock::new(|| {
    policy(
        "script-src 'self'; style-src 'self' 'unsafe-inline'; img-src 'self' data:; connect-src 'self'",
    )
});

/// Nothing is allowed but `also` (W3C Content Security Policy Level 3).
fn policy(also: &str) -> HeaderValue {
    let nothing = "default-src 'none'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'";
    let policy = format!("{nothing}; {also}");
    HeaderValue::from_str(&policy).unwrap_or(HeaderValue::from_static(nothing))
}

/// Adds what browsers are told of an answer at `path`.
pub fn protect(headers: &mut HeaderMap, path: &str) {
    let policy = if path.starts_with("/docs/") { &DOCS } else { &NOTHING };
    headers.insert(CONTENT_SECURITY_POLICY, (*policy).clone());
    headers.insert(REFERRER_POLICY, HeaderValue::from_static("no-referrer"));
    headers.insert(X_CONTENT_TYPE_OPTIONS, HeaderValue::from_static("nosniff"));
}
