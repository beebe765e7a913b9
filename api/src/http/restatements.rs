//! Restatements: nights worked out again with the reference data known now.

use actix_web::HttpResponse;
use actix_web::web::Data;
use parings_core::calendar::{BusinessDate, DateSpan};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::app::Deps;
use crate::app::ground::writes::Write;
use crate::app::office::restatements::{self, MOST_DAYS, MOST_NIGHTS, Restated, Restatement};
use crate::context::Caller;
use crate::error::{AppError, Problem};
use crate::http::answers::{OfficeOnly, Sent};
use crate::http::body::Body;
use crate::http::entries::text;
use crate::http::faults::Faults;
use crate::http::reply::{self, IdempotencyKey};

const REASON_MAX: usize = 500;

/// Which nights to work out again, and why.
#[derive(Debug, Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct RestatementBody {
    /// The first business date.
    #[schema(value_type = NaiveDate)]
    pub from: BusinessDate,
    /// The last one; the span has 100 days at most.
    #[schema(value_type = NaiveDate)]
    pub to: BusinessDate,
    /// The codes of the stores; all that have tallies there when left out.
    #[serde(default)]
    #[schema(min_items = 1, max_items = 500, example = json!(["ford"]))]
    pub stores: Option<Vec<String>>,
    /// Why the nights are restated.
    #[schema(min_length = 1, max_length = 500, example = "The price of June was typed wrong")]
    pub reason: String,
}

impl RestatementBody {
    fn read(self, write: Write) -> Result<Restatement, AppError> {
        let mut faults = Faults::default();
        let span = faults.take("to", DateSpan::new(self.from, self.to));
        if span.is_some_and(|span| span.nights() > MOST_DAYS) {
            faults.add("to", format!("a restatement has {MOST_DAYS} days at most"));
        }
        let stores = faults.maybe(self.stores, |faults, codes| {
            if codes.is_empty() || codes.len() > MOST_NIGHTS {
                faults.add("stores", format!("name 1 to {MOST_NIGHTS} stores, or leave it out"));
                return None;
            }
            faults.parse_each("stores", &codes)
        });
        let reason = text(&mut faults, "reason", &self.reason, REASON_MAX);
        let read = span.zip(stores).zip(reason);
        let read = read.map(|((span, stores), reason)| Restatement { write, span, stores, reason });
        faults.finish(read)
    }
}

/// What was worked out again.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct RestatedBody {
    /// How many nights were worked out again.
    pub nights: usize,
    /// Of how many stores.
    pub stores: usize,
    /// How many spans of use had their expected use and now say something else: those that end on
    /// one of the nights, or start there.
    pub changed_spans: usize,
}

impl From<Restated> for RestatedBody {
    fn from(restated: Restated) -> Self {
        let Restated { nights, stores, changed_spans } = restated;
        Self { nights, stores, changed_spans }
    }
}

/// Work nights out again with the reference data known now.
///
/// A night keeps to the reference data known when it was first tallied, so a document restated later
/// reaches its figures only this way. Every night of the span that is tallied is worked out again and
/// keeps to what is known now from then on (`known_at`); figures that change are marked restated. All
/// of it is done or nothing; 500 nights at most. Writes to these stores and to the reference data
/// wait meanwhile.
#[utoipa::path(post, path = "/v1/restatements", tag = "reference", request_body = RestatementBody,
    params(IdempotencyKey),
    responses(
        (status = 200, description = "Worked out again", body = RestatedBody),
        OfficeOnly, Sent,
        (status = 409, description = "What was recorded on a night does not fit the reference data", body = Problem, content_type = "application/problem+json"),
        (status = 422, description = "Something cannot be taken, these are too many nights, or the id belongs to another write", body = Problem, content_type = "application/problem+json")))]
pub async fn restate(
    deps: Data<Deps>,
    caller: Caller,
    key: IdempotencyKey,
    Body(sent): Body<RestatementBody>,
) -> Result<HttpResponse, AppError> {
    let restatement = sent.read(key.0)?;
    reply::send(restatements::restate(&deps, &caller, &restatement, RestatedBody::from).await?)
}
