//! What a request that is not met is answered with, for the API document: a set for each thing that
//! requests carry or need.
//!
//! A handler names the sets that hold for it. What it says of an answer by itself stands after them
//! and takes the place of what they say.

use std::collections::BTreeMap;

use utoipa::IntoResponses;
use utoipa::openapi::{ContentBuilder, Ref, RefOr, Response, ResponseBuilder};

use crate::error::{self, Kind};

macro_rules! answers {
    ($($(#[$doc:meta])* $name:ident { $($kind:ident $(as $says:literal)?,)* })*) => {$(
        $(#[$doc])*
        pub enum $name {}

        impl IntoResponses for $name {
            fn responses() -> BTreeMap<String, RefOr<Response>> {
                problems(&[$((&error::$kind, answers!(@says $kind $($says)?)),)*])
            }
        }
    )*};
    (@says $kind:ident) => { error::$kind.title };
    (@says $kind:ident $says:literal) => { $says };
}

answers! {
    /// Of every request that says who is calling.
    SignedIn { UNAUTHENTICATED, BUSY, }

    /// Of a request that not every role may make.
    Allowed { UNAUTHENTICATED, FORBIDDEN, BUSY, }

    /// Of a request that head office alone may make.
    OfficeOnly { UNAUTHENTICATED, FORBIDDEN as "You are not head office", BUSY, }

    /// Of a request about something that may not be there, or not be the caller's to see.
    Found { NOT_FOUND as "There is no such thing here, or it is not yours to see", INVALID, }

    /// Of a request with a query.
    Queried { UNREADABLE, INVALID, }

    /// Of a request with a body in JSON.
    Bodied { UNREADABLE, TOO_LARGE, MEDIA_TYPE, INVALID, }

    /// Of a write whose id stands in a header.
    Keyed {
        UNREADABLE as "The request cannot be read, or has no Idempotency-Key",
        INVALID, ID_TAKEN,
    }

    /// Of a write with a body in JSON, and its id in it or in a header.
    Sent {
        UNREADABLE as "The request cannot be read, or has no id of its own",
        TOO_LARGE, MEDIA_TYPE, INVALID, ID_TAKEN,
    }

    /// Of a write that says what it expects to find.
    Expecting { PRECONDITION, PRECONDITION_REQUIRED, }

    /// Of a request that rests on the network's settings.
    SetUp { CONFLICT as "The network is not set up for these dates yet", }
}

/// An answer for each status: what kinds of one status say stands in one sentence.
fn problems(kinds: &[(&Kind, &str)]) -> BTreeMap<String, RefOr<Response>> {
    let mut says: BTreeMap<String, Vec<&str>> = BTreeMap::new();
    for (kind, what) in kinds {
        says.entry(kind.status.as_str().to_owned()).or_default().push(what);
    }
    let problem = Ref::from_schema_name("Problem");
    let content = ContentBuilder::new().schema(Some(problem)).build();
    let answer = |says: Vec<&str>| {
        ResponseBuilder::new()
            .description(says.join("; or: "))
            .content(error::PROBLEM_MEDIA_TYPE, content.clone())
            .build()
            .into()
    };
    says.into_iter().map(|(status, says)| (status, answer(says))).collect()
}
