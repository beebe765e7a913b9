//! What was thrown away for safety.

use actix_web::HttpResponse;
use actix_web::web::{Data, Path, Query};
use chrono::NaiveDate;
use parings_core::calendar::DateSpan;
use serde::Serialize;
use utoipa::ToSchema;

use crate::app::Deps;
use crate::app::figures::safety;
use crate::context::Caller;
use crate::error::AppError;
use crate::http::amount::{self, AmountBody};
use crate::http::answers::{Allowed, Found, Queried, SetUp};
use crate::http::page::SpanQuery;
use crate::http::quantity::Number;

/// What a store threw away of an item on a date.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct ThrownBody {
    /// The business date on which it was thrown away.
    pub business_date: NaiveDate,
    /// The code of the store.
    #[schema(example = "ford")]
    pub store: String,
    /// The code of the item.
    #[schema(example = "fish")]
    pub item: String,
    /// What people call it.
    pub title: String,
    /// How much was thrown away.
    pub amount: AmountBody,
    /// What that costs, at the standard price.
    pub cost: Number,
    /// Where its entries are, with the reason.
    pub rows: String,
}

/// What the stores of a district threw away for safety.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct SafetyBody {
    /// The code of the district.
    #[schema(example = "upper")]
    pub district: String,
    /// The currency of every amount of money, ISO 4217.
    #[schema(example = "EUR")]
    pub currency: String,
    /// What was thrown away, what was recorded last first.
    pub thrown: Vec<ThrownBody>,
}

/// What the stores of a district threw away for safety, as soon as it is recorded.
///
/// It is in no ranking, counts against no store and makes no case: what is not safe must go. Cooling,
/// holding and discarding go by local food rules.
#[utoipa::path(get, path = "/v1/districts/{district}/safety", operation_id = "list_safety",
    tag = "review",
    params(("district" = String, Path, description = "The district's code", example = "upper"), SpanQuery),
    responses(
        (status = 200, description = "What was thrown away", body = SafetyBody),
        Allowed, Found, Queried, SetUp))]
pub async fn list(
    deps: Data<Deps>,
    caller: Caller,
    district: Path<String>,
    query: Query<SpanQuery>,
) -> Result<HttpResponse, AppError> {
    let district = district.parse().map_err(|_| AppError::not_found("district of this name"))?;
    let span = DateSpan::new(query.from, query.to)
        .map_err(|error| AppError::invalid("/to", error.to_string()))?;
    let (settings, thrown) = safety::of_district(&deps, &caller, &district, span).await?;
    let currency = settings.currency;
    let thrown = thrown.into_iter().map(|of| ThrownBody {
        rows: format!("/v1/stores/{}/entries?business_date={}", of.store, of.business_date),
        business_date: of.business_date,
        store: of.store,
        item: of.item,
        title: of.title,
        amount: AmountBody::new(of.amount, of.dimension),
        cost: amount::money(of.cost, &currency),
    });
    Ok(HttpResponse::Ok().json(SafetyBody {
        district: district.to_string(),
        currency: currency.to_string(),
        thrown: thrown.collect(),
    }))
}
