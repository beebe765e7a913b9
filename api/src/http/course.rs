//! How a measure of a store went, week by week.
#![expect(unused_qualifications, reason = "utoipa repeats the path of a query")]

use actix_web::HttpResponse;
use actix_web::web::{Data, Path, Query};
use chrono::NaiveDate;
use parings_core::calendar::BusinessDate;
use parings_core::ids::StoreId;
use parings_core::review::{Measure, Week};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};

use crate::app::Deps;
use crate::app::watch::course;
use crate::context::Caller;
use crate::error::{AppError, Problem};
use crate::http::answers::{Allowed, Found, Queried};
use crate::http::quantity::Number;
use crate::http::review::{PeersBody, ratio};

/// Of what, and up to which night.
#[derive(Debug, Clone, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(deny_unknown_fields)]
pub struct CourseQuery {
    /// `use`, `recorded_waste`, `batch_yield` or `lateness`.
    #[param(value_type = String, example = "use")]
    pub measure: String,
    /// The last business date; the last that is over when left out.
    #[param(value_type = Option<String>, format = Date, example = "2026-06-14")]
    pub as_of: Option<BusinessDate>,
}

/// A week of a store, by one measure.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct WeekBody {
    /// Its first night.
    pub from: NaiveDate,
    /// Its last night.
    pub to: NaiveDate,
    /// The nights that the ratio comes from: those that are relied on.
    pub nights: u64,
    /// A ratio of sums; missing with fewer than four nights.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub ratio: Option<Number>,
    /// Lower end of its 95 % range, as nights differ from each other.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub low: Option<Number>,
    /// Upper end of that range.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub high: Option<Number>,
    /// Fair peers over the same nights; missing while there are fewer than five.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub peers: Option<PeersBody>,
}

/// How a measure of a store went.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct CourseBody {
    /// The code of the store.
    #[schema(example = "ford")]
    pub store: String,
    /// Its district on the last night.
    #[schema(example = "upper")]
    pub district: String,
    /// The measure, as in a review.
    #[schema(example = "use")]
    pub measure: String,
    /// The last night.
    pub as_of: NaiveDate,
    /// Sixteen weeks at most, the last one last.
    pub weeks: Vec<WeekBody>,
}

impl From<&Week> for WeekBody {
    fn from(week: &Week) -> Self {
        Self {
            from: week.span.from().into(),
            to: week.span.to().into(),
            nights: week.nights,
            ratio: week.value.map(ratio),
            low: week.range.map(|range| ratio(range.low)),
            high: week.range.map(|range| ratio(range.high)),
            peers: week.peers.map(PeersBody::from),
        }
    }
}

/// How a measure of a store went, week by week, beside its fair peers.
///
/// What a case rests on, to be drawn or read: sixteen weeks of seven nights, each with its range and
/// with the median and spread of fair peers over the same nights. Peers may stand anywhere and are
/// never named. Short days and nights left out are in no ratio; what was thrown away for safety is in
/// none either. Nights before the store came to its district and owner are not there.
#[utoipa::path(get, path = "/v1/stores/{store}/course", operation_id = "read_course", tag = "review",
    params(("store" = String, Path, description = "The store's code", example = "ford"), CourseQuery),
    responses(
        (status = 200, description = "The weeks", body = CourseBody),
        Allowed, Found, Queried,
        (status = 422, description = "No such measure, or the night is still to come", body = Problem, content_type = "application/problem+json")))]
pub async fn read(
    deps: Data<Deps>,
    caller: Caller,
    store: Path<String>,
    query: Query<CourseQuery>,
) -> Result<HttpResponse, AppError> {
    let store: StoreId = store.parse().map_err(|_| AppError::not_found("store of this name"))?;
    let measure = Measure::ALL.iter().find(|measure| measure.word() == query.measure);
    let measure = *measure.ok_or_else(|| AppError::invalid("/measure", "this is no measure"))?;
    let found = course::of_store(&deps, &caller, &store, measure, query.as_of).await?;
    Ok(HttpResponse::Ok().json(CourseBody {
        store: store.to_string(),
        district: found.district.to_string(),
        measure: measure.word().to_owned(),
        as_of: found.as_of.into(),
        weeks: found.weeks.iter().map(WeekBody::from).collect(),
    }))
}
