//! The one error of the server, and the only place that picks a status code.
//!
//! Every error is an RFC 9457 problem. Its `type` is one of [`KINDS`], which `/problems` lists for
//! people; `errors` names each offending place by JSON Pointer (RFC 6901).

mod outage;

use actix_web::http::{StatusCode, header};
use actix_web::{HttpResponse, ResponseError};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

pub use outage::Outage;

/// The media type of every error (RFC 9457, section 3).
pub const PROBLEM_MEDIA_TYPE: &str = "application/problem+json";

/// One place in a request that cannot be taken.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct Fault {
    /// JSON Pointer to the place in the request's body; empty for the whole.
    #[schema(example = "/lines/3/quantity/unit")]
    pub pointer: String,
    /// What is wrong and what would be right.
    pub detail: String,
}

impl Fault {
    /// A fault at a place.
    pub fn new(pointer: impl Into<String>, detail: impl Into<String>) -> Self {
        Self { pointer: pointer.into(), detail: detail.into() }
    }
}

/// A place in a file that cannot be taken.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, ToSchema)]
pub struct BadRow {
    /// The line of the file, from 1; of a row with line breaks in its cells, where it starts.
    #[schema(example = 17)]
    pub line: u64,
    /// The column's name, or in NDJSON the JSON Pointer of the member; missing for the whole row.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "unit")]
    pub column: Option<String>,
    /// What is wrong and what would be right.
    pub says: String,
}

/// An RFC 9457 problem.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
pub struct Problem {
    /// The kind of fault: a stable path, which can be opened.
    #[serde(rename = "type")]
    #[schema(example = "/problems#invalid")]
    pub kind: String,
    /// The kind in a few words.
    pub title: String,
    /// The HTTP status.
    pub status: u16,
    /// What happened here, and what to do next.
    pub detail: String,
    /// The request's id, to quote when asking for help.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub request_id: Option<String>,
    /// The offending places.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub errors: Vec<Fault>,
    /// The rows of a file that cannot be taken, the first 1,000 of them; `detail` says how many there
    /// are.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub rows: Vec<BadRow>,
}

/// A kind of problem, as `/problems` shows it.
pub struct Kind {
    /// The last part of its `type`.
    pub slug: &'static str,
    /// Its status.
    pub status: StatusCode,
    /// Its title.
    pub title: &'static str,
    /// What to do next.
    pub next: &'static str,
}

macro_rules! kinds {
    ($($name:ident = $slug:literal, $status:ident, $title:literal, $next:literal;)*) => {
        $(#[doc = $title]
        pub const $name: Kind = Kind {
            slug: $slug, status: StatusCode::$status, title: $title, next: $next,
        };)*
        /// Every kind of problem this server answers with.
        pub const KINDS: &[Kind] = &[$($name,)*];
    };
}

kinds! {
    UNREADABLE = "unreadable", BAD_REQUEST, "The request cannot be read",
        "Send what the API document describes.";
    UNAUTHENTICATED = "unauthenticated", UNAUTHORIZED, "You are not signed in",
        "Sign in with POST /v1/sessions and send its access token as a bearer token.";
    FORBIDDEN = "forbidden", FORBIDDEN, "Your role may not do this",
        "Ask somebody whose role may.";
    NOT_FOUND = "not-found", NOT_FOUND, "There is no such thing here",
        "Check the address. What you may not see is answered the same way.";
    METHOD = "method-not-allowed", METHOD_NOT_ALLOWED, "This address does not take this method",
        "Use a method that the Allow header lists.";
    TIMEOUT = "timeout", SERVICE_UNAVAILABLE, "The request took too long",
        "Nothing was saved. Send it again with the same id.";
    CONFLICT = "conflict", CONFLICT, "This clashes with what is on record",
        "Read the record as it is now, then decide.";
    PRECONDITION = "precondition-failed", PRECONDITION_FAILED, "Somebody changed this before you",
        "Read it again, merge, and send with the new ETag in If-Match.";
    TOO_LARGE = "too-large", PAYLOAD_TOO_LARGE, "The request is too large",
        "Send it in several parts.";
    MEDIA_TYPE = "unsupported-media-type", UNSUPPORTED_MEDIA_TYPE, "The body is of another type",
        "Send a body of the type that the API document names, with its content-type.";
    INVALID = "invalid", UNPROCESSABLE_ENTITY, "Something in the request cannot be taken",
        "Nothing was saved. Correct the places under errors and send it again.";
    BAD_ROWS = "bad-rows", UNPROCESSABLE_ENTITY, "Rows of the file cannot be taken",
        "Nothing of it was saved. Correct the lines under rows and send the file again.";
    ID_TAKEN = "id-taken", UNPROCESSABLE_ENTITY, "This id belongs to another write",
        "Use a new id for new content; an id is kept for ever.";
    PRECONDITION_REQUIRED = "precondition-required", PRECONDITION_REQUIRED,
        "Say whether you create or change",
        "Send If-None-Match: * to create, or If-Match with the ETag you last read to change.";
    TOO_MANY = "too-many-requests", TOO_MANY_REQUESTS, "Too many attempts",
        "Wait for the seconds in Retry-After.";
    BUSY = "busy", SERVICE_UNAVAILABLE, "The server cannot take this now",
        "Nothing was saved. Send it again with the same id in a moment.";
    NO_DATABASE = "no-database", SERVICE_UNAVAILABLE, "The database cannot be used now",
        "Send it again later with the same id: what was saved is not saved twice.";
    INTERNAL = "internal", INTERNAL_SERVER_ERROR, "Something went wrong on our side",
        "Nothing was saved. Send it again with the same id, and quote the request id if it stays.";
}

/// What can go wrong with a request.
#[derive(Debug, thiserror::Error)]
pub enum AppError {
    /// The request is not what the address takes.
    #[error("{0}")]
    Unreadable(String),
    /// Nobody is signed in, or no longer.
    #[error("{0}")]
    Unauthenticated(String),
    /// The policy says no to something visible.
    #[error("the role {role} may not {action}")]
    Forbidden {
        /// The role's word.
        role: String,
        /// The action's words.
        action: &'static str,
    },
    /// Not there, or not theirs to see.
    #[error("there is no {0} that you can see")]
    NotFound(String),
    /// The address exists, the method does not.
    #[error("this address does not take {0}")]
    MethodNotAllowed(String),
    /// The request's time is up.
    #[error("the request was stopped after {0} s")]
    Timeout(u64),
    /// Two truths.
    #[error("{0}")]
    Conflict(String),
    /// `If-Match` or `If-None-Match` does not hold.
    #[error("{0}")]
    PreconditionFailed(String),
    /// Neither `If-Match` nor `If-None-Match`.
    #[error("this write needs one of If-None-Match: * and If-Match")]
    PreconditionRequired,
    /// More than a request may carry.
    #[error("{0}")]
    TooLarge(String),
    /// A body of another type than the address takes.
    #[error("the content type is {stated}, not {expected}")]
    MediaType {
        /// What the request says.
        stated: String,
        /// What is taken.
        expected: &'static str,
    },
    /// The content cannot be taken.
    #[error("{} of the request cannot be taken", if .0.len() == 1 { "one place".into() } else { format!("{} places", .0.len()) })]
    Invalid(Vec<Fault>),
    /// Rows of a file cannot be taken, so nothing of it is.
    #[error("{total} {} of the file cannot be taken", if *total == 1 { "place" } else { "places" })]
    BadRows {
        /// The first of them.
        rows: Vec<BadRow>,
        /// How many there are.
        total: usize,
    },
    /// A client's id met again with other content.
    #[error("the id {0} was used before with other content")]
    IdTaken(String),
    /// Too fast.
    #[error("too many attempts: try again in {retry_after_s} s")]
    TooMany {
        /// Seconds to wait.
        retry_after_s: u64,
    },
    /// No connection is free, a lock does not come, a statement takes too long.
    #[error("{0}")]
    Busy(String),
    /// The database is away, or has no room. The log has the cause, the answer does not.
    #[error("{outage}")]
    NoDatabase {
        /// What keeps it from working.
        outage: Outage,
        /// What it said.
        cause: String,
    },
    /// A fault of ours. The log has the cause, the answer does not.
    #[error("internal error")]
    Internal(#[source] anyhow::Error),
}

impl AppError {
    /// Something that is not there.
    pub fn not_found(what: impl Into<String>) -> Self {
        Self::NotFound(what.into())
    }

    /// A single fault.
    pub fn invalid(pointer: impl Into<String>, detail: impl Into<String>) -> Self {
        Self::Invalid(vec![Fault::new(pointer, detail)])
    }

    fn kind(&self) -> &'static Kind {
        match self {
            Self::Unreadable(_) => &UNREADABLE,
            Self::Unauthenticated(_) => &UNAUTHENTICATED,
            Self::Forbidden { .. } => &FORBIDDEN,
            Self::NotFound(_) => &NOT_FOUND,
            Self::MethodNotAllowed(_) => &METHOD,
            Self::Timeout(_) => &TIMEOUT,
            Self::Conflict(_) => &CONFLICT,
            Self::PreconditionFailed(_) => &PRECONDITION,
            Self::PreconditionRequired => &PRECONDITION_REQUIRED,
            Self::TooLarge(_) => &TOO_LARGE,
            Self::MediaType { .. } => &MEDIA_TYPE,
            Self::Invalid(_) => &INVALID,
            Self::BadRows { .. } => &BAD_ROWS,
            Self::IdTaken(_) => &ID_TAKEN,
            Self::TooMany { .. } => &TOO_MANY,
            Self::Busy(_) => &BUSY,
            Self::NoDatabase { .. } => &NO_DATABASE,
            Self::Internal(_) => &INTERNAL,
        }
    }

    /// The problem as it is sent, without the request's id.
    pub fn problem(&self) -> Problem {
        let kind = self.kind();
        let mut said = self.to_string();
        if let Some(first) = said.get(..1) {
            said = first.to_uppercase() + &said[1..];
        }
        Problem {
            kind: format!("/problems#{}", kind.slug),
            title: kind.title.to_owned(),
            status: kind.status.as_u16(),
            detail: format!("{said}. {}", kind.next),
            request_id: None,
            errors: match self {
                Self::Invalid(faults) => faults.clone(),
                _ => Vec::new(),
            },
            rows: match self {
                Self::BadRows { rows, .. } => rows.clone(),
                _ => Vec::new(),
            },
        }
    }
}

impl ResponseError for AppError {
    fn status_code(&self) -> StatusCode {
        self.kind().status
    }

    fn error_response(&self) -> HttpResponse {
        match self {
            Self::Internal(cause) => tracing::error!(error.cause = ?cause, "internal error"),
            Self::NoDatabase { outage, cause } => tracing::warn!(error.cause = cause, "{outage}"),
            _ => {}
        }
        let mut response = HttpResponse::build(self.status_code());
        match self {
            Self::Unauthenticated(_) => {
                response.insert_header((header::WWW_AUTHENTICATE, "Bearer"));
            }
            Self::TooMany { retry_after_s } => {
                response.insert_header((header::RETRY_AFTER, retry_after_s.to_string()));
            }
            Self::Busy(_) | Self::Timeout(_) => {
                response.insert_header((header::RETRY_AFTER, "2"));
            }
            Self::NoDatabase { .. } => {
                response.insert_header((header::RETRY_AFTER, "10"));
            }
            _ => {}
        }
        response
            .content_type(PROBLEM_MEDIA_TYPE)
            .body(serde_json::to_string(&self.problem()).unwrap_or_default())
    }
}

impl From<diesel::result::Error> for AppError {
    fn from(error: diesel::result::Error) -> Self {
        use diesel::result::{DatabaseErrorKind as Kind, Error};
        if let Some(outage) = Outage::of(&error) {
            return Self::NoDatabase { outage, cause: error.to_string() };
        }
        match &error {
            Error::DatabaseError(Kind::UniqueViolation, info) => match info.constraint_name() {
                Some("entry_ids_pkey") => Self::IdTaken("of an entry".to_owned()),
                // Somebody else's: one's own is found before the work begins.
                Some("writes_pkey") => Self::IdTaken("of this write".to_owned()),
                Some("people_email_key") => {
                    Self::Conflict("somebody with this e-mail address is on record".to_owned())
                }
                _ => Self::Internal(error.into()),
            },
            Error::DatabaseError(Kind::SerializationFailure, _) => {
                Self::Busy("another write was in the way".to_owned())
            }
            Error::DatabaseError(_, info)
                if info.message().contains("statement timeout")
                    || info.message().contains("lock timeout")
                    || info.message().contains("deadlock") =>
            {
                Self::Busy("the database is busy".to_owned())
            }
            _ => Self::Internal(error.into()),
        }
    }
}

impl From<anyhow::Error> for AppError {
    fn from(error: anyhow::Error) -> Self {
        Self::Internal(error)
    }
}
