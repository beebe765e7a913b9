//! Roll-ups of scopes and spans.
#![expect(unused_qualifications, reason = "utoipa repeats the path of a query")]

mod body;
mod show;

use std::str::FromStr;

use actix_web::HttpResponse;
use actix_web::web::{Data, Query};
use chrono::{DateTime, Utc};
use parings_core::calendar::{BusinessDate, DateSpan};
use parings_core::ids::CodeError;
use parings_core::rollup::{Against, By, Headline};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};

use crate::app::Deps;
use crate::app::figures::rollups;
use crate::context::Caller;
use crate::error::{AppError, Problem};
use crate::http::answers::{Allowed, Found, Queried, SetUp};
use crate::http::nights::maybe_instant;

pub use body::{HeadlineBody, NightsBody, RankBody, RollupBody};

/// How a span is cut.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum ByBody {
    /// A row for each date.
    Day,
    /// A row for each ISO 8601 week, Monday to Sunday, cut to the span.
    Week,
    /// A row for each period of the network's settings, cut to the span.
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

/// What a roll-up is asked of: a scope, its nights, and how they are divided.
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
    /// Only this item: its use, its waste, its stock-outs. Sales, orders and tickets stay those of
    /// the whole.
    #[param(example = "potato")]
    pub item: Option<String>,
    /// Only this daypart: its tickets, waste and stock-outs. Use is not known by daypart, and is left
    /// out; so are the night's own sales and units. Shares stay those of all dayparts.
    #[param(example = "dinner")]
    pub daypart: Option<String>,
    /// Only this channel, in the same way. Waste is not known by channel, and is left out.
    #[param(example = "counter")]
    pub channel: Option<String>,
    /// Whether recorded waste is told by reason, stage and daypart together as well.
    #[serde(default)]
    pub waste_lines: bool,
    /// What the span is compared with, separated by commas: `before`, as many nights or periods just
    /// before; `year_ago`, the same a year ago. Only for a span as a whole.
    #[param(example = "before,year_ago")]
    pub compare: Option<String>,
    /// What children are ranked by, over the span as a whole.
    #[param(inline)]
    pub rank_by: Option<HeadlineBody>,
    /// The figures as they were known at this moment (RFC 3339); as they are known now when left
    /// out. What would take more than 500 nights to work out again is refused.
    #[serde(default, deserialize_with = "maybe_instant")]
    pub as_known_at: Option<DateTime<Utc>>,
}

impl RollupQuery {
    /// A scope and span as a whole.
    pub fn whole(scope: String, from: BusinessDate, to: BusinessDate) -> Self {
        Self {
            scope,
            from,
            to,
            by: ByBody::None,
            children: false,
            item: None,
            daypart: None,
            channel: None,
            waste_lines: false,
            compare: None,
            rank_by: None,
            as_known_at: None,
        }
    }
}

impl TryFrom<RollupQuery> for rollups::Asked {
    type Error = AppError;

    fn try_from(sent: RollupQuery) -> Result<Self, AppError> {
        let scope = sent.scope.parse().map_err(|error| {
            AppError::invalid("/scope", format!("\"{}\" is none: {error}", short(&sent.scope)))
        })?;
        let span = DateSpan::new(sent.from, sent.to)
            .map_err(|error| AppError::invalid("/to", error.to_string()))?;
        Ok(Self {
            by: sent.by.into(),
            children: sent.children,
            item: code(sent.item.as_deref(), "/item")?,
            daypart: code(sent.daypart.as_deref(), "/daypart")?,
            channel: code(sent.channel.as_deref(), "/channel")?,
            waste_lines: sent.waste_lines,
            compare: compare(sent.compare.as_deref())?,
            rank_by: sent.rank_by.map(Headline::from),
            as_known_at: sent.as_known_at,
            ..Self::new(scope, span)
        })
    }
}

fn compare(sent: Option<&str>) -> Result<Vec<Against>, AppError> {
    let mut all = Vec::new();
    for word in sent.into_iter().flat_map(|sent| sent.split(',')) {
        let against = match word {
            "before" => Against::Before,
            "year_ago" => Against::YearAgo,
            _ => {
                let says = format!("\"{}\" is none: before or year_ago", short(word));
                return Err(AppError::invalid("/compare", says));
            }
        };
        if !all.contains(&against) {
            all.push(against);
        }
    }
    Ok(all)
}

fn code<T>(sent: Option<&str>, at: &str) -> Result<Option<T>, AppError>
where
    T: FromStr<Err = CodeError>,
{
    let read = |code: &str| {
        let says = |error| format!("\"{}\" is none: {error}", short(code));
        code.parse().map_err(|error| AppError::invalid(at, says(error)))
    };
    sent.map(read).transpose()
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
        Allowed, Found, Queried, SetUp,
        (status = 422, description = "The dates run backwards, the moment is to come, or this would be too many nights, buckets or rows", body = Problem, content_type = "application/problem+json")))]
pub async fn find(
    deps: Data<Deps>,
    caller: Caller,
    query: Query<RollupQuery>,
) -> Result<HttpResponse, AppError> {
    let found = rollups::find(&deps, &caller, query.into_inner().try_into()?).await?;
    Ok(HttpResponse::Ok().json(RollupBody::from(&found)))
}
