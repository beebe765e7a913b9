//! Roll-ups of scopes and spans.
#![expect(unused_qualifications, reason = "utoipa repeats the path of a query")]

mod body;
mod show;

use actix_web::HttpResponse;
use actix_web::web::{Data, Query};
use parings_core::calendar::{BusinessDate, DateSpan};
use parings_core::rollup::By;
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};

use crate::app::{Deps, rollups};
use crate::context::Caller;
use crate::error::{AppError, Problem};

pub use body::RollupBody;

/// How a span is cut.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum ByBody {
    /// A row for each date.
    Day,
    /// A row for each ISO 8601 week, Monday to Sunday, cut to the span.
    Week,
    /// A row for each of the network's periods, cut to the span.
    Period,
    /// One row for the whole span.
    #[default]
    None,
}

impl From<ByBody> for By {
    fn from(by: ByBody) -> Self {
        match by {
            ByBody::Day => Self::Day,
            ByBody::Week => Self::Week,
            ByBody::Period => Self::Period,
            ByBody::None => Self::None,
        }
    }
}

/// Which roll-up.
#[derive(Debug, Clone, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(deny_unknown_fields)]
pub struct RollupQuery {
    /// `store:CODE`, `district:CODE`, `region:CODE`, `owner:CODE`, or `network`. A store counts
    /// where it stood on each date.
    #[param(example = "district:upper")]
    pub scope: String,
    /// The first business date.
    #[param(value_type = String, format = Date, example = "2026-06-08")]
    pub from: BusinessDate,
    /// The last business date; 400 nights at most.
    #[param(value_type = String, format = Date, example = "2026-06-14")]
    pub to: BusinessDate,
    /// The buckets, 53 at most.
    #[serde(default)]
    #[param(inline)]
    pub by: ByBody,
    /// Whether what the scope is made of has rows of its own: the regions of the network, the
    /// districts of a region, the stores of a district or an owner. 400 rows at most.
    #[serde(default)]
    pub children: bool,
}

impl TryFrom<RollupQuery> for rollups::Asked {
    type Error = AppError;

    fn try_from(sent: RollupQuery) -> Result<Self, AppError> {
        let scope = sent.scope.parse().map_err(|error| {
            AppError::invalid("/scope", format!("\"{}\" is none: {error}", short(&sent.scope)))
        })?;
        let span = DateSpan::new(sent.from, sent.to)
            .map_err(|error| AppError::invalid("/to", error.to_string()))?;
        Ok(Self { scope, span, by: sent.by.into(), children: sent.children })
    }
}

fn short(text: &str) -> String {
    text.chars().take(60).collect()
}

/// What tallies add up to, and the measures made from it.
///
/// Sums are added up first and ratios made once, at the end: a week's ratio is no mean of its
/// nights'. Each ratio has its own matched numerator, denominator and count of nights. A span of
/// usage belongs to the date of its closing count, whole; waste, batches, sales and tickets belong
/// to their own date. What is missing from a row is not known; it is not zero.
#[utoipa::path(get, path = "/v1/rollups", operation_id = "find_rollup", tag = "rollups",
    params(RollupQuery), responses(
    (status = 200, description = "The rows of the scope, then those of its children", body = RollupBody),
    (status = 400, description = "The query cannot be read", body = Problem, content_type = "application/problem+json"),
    (status = 401, description = "Not signed in", body = Problem, content_type = "application/problem+json"),
    (status = 403, description = "Not for your role", body = Problem, content_type = "application/problem+json"),
    (status = 404, description = "No such scope, or not yours to see", body = Problem, content_type = "application/problem+json"),
    (status = 409, description = "The network has no settings yet", body = Problem, content_type = "application/problem+json"),
    (status = 422, description = "The dates run backwards, or this would be too many nights, buckets or rows", body = Problem, content_type = "application/problem+json"),
    (status = 503, description = "Busy", body = Problem, content_type = "application/problem+json")))]
pub async fn find(
    deps: Data<Deps>,
    caller: Caller,
    query: Query<RollupQuery>,
) -> Result<HttpResponse, AppError> {
    let found = rollups::find(&deps, &caller, query.into_inner().try_into()?).await?;
    Ok(HttpResponse::Ok().json(RollupBody::from(&found)))
}
