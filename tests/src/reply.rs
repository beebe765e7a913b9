//! What the server answered, kept whole so that a failing test can show it.

use reqwest::StatusCode;
use reqwest::header::HeaderMap;
use serde_json::Value;

/// An answer of the server.
#[derive(Debug, Clone)]
pub struct Reply {
    /// What was asked: method and address.
    pub asked: String,
    /// The status.
    pub status: StatusCode,
    /// The headers.
    pub headers: HeaderMap,
    /// The body as it came.
    pub text: String,
    /// The body as JSON; null when it is not JSON.
    pub json: Value,
}

impl Reply {
    /// Reads a response to its end.
    pub async fn read(asked: String, response: reqwest::Response) -> Self {
        let (status, headers) = (response.status(), response.headers().clone());
        let text = response.text().await.unwrap_or_else(|e| panic!("{asked}: body: {e}"));
        let json = serde_json::from_str(&text).unwrap_or_default();
        Self { asked, status, headers, text, json }
    }

    /// Fails, with the whole answer, unless the status is this one.
    #[track_caller]
    pub fn expect(&self, status: u16) -> &Self {
        assert_eq!(self.status.as_u16(), status, "{} answered:\n{}", self.asked, self.text);
        self
    }

    /// Fails unless this is an RFC 9457 problem of this status and kind (the last part of its
    /// `type`), with the request's id in body and header alike.
    #[track_caller]
    pub fn expect_problem(&self, status: u16, kind: &str) -> &Self {
        self.expect(status);
        let Self { asked, text, json, .. } = self;
        assert_eq!(self.header("content-type"), "application/problem+json", "{asked}\n{text}");
        assert_eq!(json["type"], format!("/problems#{kind}"), "{asked}\n{text}");
        assert_eq!(json["status"], status, "{asked}\n{text}");
        for member in ["title", "detail"] {
            assert!(json[member].as_str().is_some_and(|t| !t.is_empty()), "{member}: {text}");
        }
        let id = self.header("x-request-id");
        assert!(!id.is_empty(), "{asked}: no x-request-id\n{text}");
        assert_eq!(json["request_id"], id, "{asked}\n{text}");
        self
    }

    /// The pointers of the places a problem names.
    pub fn pointers(&self) -> Vec<&str> {
        let errors = self.json["errors"].as_array();
        errors.into_iter().flatten().filter_map(|e| e["pointer"].as_str()).collect()
    }

    /// A header as text; empty when it is missing.
    pub fn header(&self, name: &str) -> &str {
        self.headers.get(name).and_then(|value| value.to_str().ok()).unwrap_or_default()
    }
}
