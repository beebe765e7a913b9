//! What districts share, for head office.
#![expect(unused_qualifications, reason = "utoipa repeats the path of a query")]

use actix_web::HttpResponse;
use actix_web::web::{Data, Query};
use chrono::{DateTime, NaiveDate, Utc};
use parings_core::calendar::BusinessDate;
use parings_core::review::{Common, Moved, Together};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};

use crate::app::Deps;
use crate::app::watch::shared;
use crate::context::Caller;
use crate::error::AppError;
use crate::http::answers::{Allowed, Queried};
use crate::http::quantity::Number;
use crate::http::review::{number, ratio};

/// Of which reviews what districts share is asked for.
#[derive(Debug, Clone, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(deny_unknown_fields)]
pub struct SharedQuery {
    /// Of the last reviews up to this night; today when left out.
    #[param(value_type = Option<String>, format = Date, example = "2026-06-14")]
    pub as_of: Option<BusinessDate>,
    /// As known at this moment; now when left out.
    pub as_known_at: Option<DateTime<Utc>>,
}

/// A district that moved.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct MovedBody {
    /// The code of the district.
    #[schema(example = "upper")]
    pub district: String,
    /// The night it is estimated to have begun there.
    pub since: NaiveDate,
    /// The change of the ratio.
    pub size: Number,
    /// Lower end of its 95 % range.
    pub size_low: Number,
    /// Upper end of that range.
    pub size_high: Number,
    /// What that comes to a week; missing for what has no price.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub money_per_week: Option<Number>,
    /// The lot that most of its nights since were cooked from.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(example = "L-2207")]
    pub lot: Option<String>,
    /// The share of nights that were, of those whose lot is known.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub lot_share: Option<Number>,
}

/// What districts share.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct SharedBody {
    /// `use`, `recorded_waste` or `batch_yield`.
    #[schema(example = "batch_yield")]
    pub measure: String,
    /// The lot that at least half of the nights of each of these districts were cooked from.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(example = "L-2207")]
    pub lot: Option<String>,
    /// The area they lie in, where no lot is known that they have in common.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(example = "valley")]
    pub area: Option<String>,
    /// The earliest night it is estimated to have begun.
    pub since: NaiveDate,
    /// In words: what changed, since when, how far, and in which districts.
    pub sentence: String,
    /// The change of the ratio: the mean of the districts, by how surely each is known.
    pub size: Number,
    /// Lower end of its 95 % range.
    pub size_low: Number,
    /// Upper end of that range.
    pub size_high: Number,
    /// What it comes to a week in all of them; missing for what has no price.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub money_per_week: Option<Number>,
    /// The districts, most money first.
    pub districts: Vec<MovedBody>,
}

/// All that districts share.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct SharedListBody {
    /// Most money a week first.
    pub items: Vec<SharedBody>,
}

impl From<Moved> for MovedBody {
    fn from(of: Moved) -> Self {
        let (lot, lot_share) = of.lot.unzip();
        Self {
            district: of.district.to_string(),
            since: of.since.into(),
            size: ratio(of.size),
            size_low: ratio(of.range.low),
            size_high: ratio(of.range.high),
            money_per_week: of.money_per_week.and_then(|money| number(money, 2)),
            lot,
            lot_share: lot_share.map(ratio),
        }
    }
}

impl From<Together> for SharedBody {
    fn from(of: Together) -> Self {
        let sentence = of.sentence();
        let (lot, area) = match of.common {
            Common::Lot(lot) => (Some(lot), None),
            Common::Area(area) => (None, Some(area.to_string())),
        };
        Self {
            measure: of.measure.word().to_owned(),
            lot,
            area,
            since: of.since.into(),
            sentence,
            size: ratio(of.size),
            size_low: ratio(of.range.low),
            size_high: ratio(of.range.high),
            money_per_week: of.money_per_week.and_then(|money| number(money, 2)),
            districts: of.districts.into_iter().map(MovedBody::from).collect(),
        }
    }
}

/// What districts share, by lot and by area.
///
/// For head office: a poor lot moves every district that cooks from it and is one matter, not as many as
/// districts. Where no lot is known in common, districts are put together by area.
#[utoipa::path(get, path = "/v1/shared", operation_id = "list_shared", tag = "review",
    params(SharedQuery), responses(
        (status = 200, description = "What is shared", body = SharedListBody),
        Allowed, Queried))]
pub async fn list(
    deps: Data<Deps>,
    caller: Caller,
    query: Query<SharedQuery>,
) -> Result<HttpResponse, AppError> {
    let SharedQuery { as_of, as_known_at } = query.into_inner();
    let found = shared::list(&deps, &caller, as_of, as_known_at).await?;
    let items = found.into_iter().map(SharedBody::from).collect();
    Ok(HttpResponse::Ok().json(SharedListBody { items }))
}
