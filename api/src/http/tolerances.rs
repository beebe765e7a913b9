//! Tolerances that answers say are too narrow.

use actix_web::HttpResponse;
use actix_web::web::Data;
use chrono::NaiveDate;
use serde::Serialize;
use utoipa::ToSchema;

use crate::app::Deps;
use crate::app::figures::tolerances::{self, Wider};
use crate::context::Caller;
use crate::error::AppError;
use crate::http::answers::{OfficeOnly, SetUp};
use crate::http::quantity::Number;

/// A wider tolerance, proposed to head office.
#[derive(Debug, Serialize, ToSchema)]
pub struct ToleranceProposalBody {
    /// The kind of question that was answered *it is right* again and again.
    #[schema(example = "negative_use")]
    pub kind: &'static str,
    /// The item it was asked about; missing for the night as a whole.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub item: Option<String>,
    /// The name of the limit among those of the network's settings.
    #[schema(example = "use_spreads")]
    pub limit: &'static str,
    /// The value of the limit that is in force.
    pub now: Number,
    /// The value of the limit that would ask less often.
    pub proposed: Number,
    /// What speaks for it, store by store.
    pub stores: Vec<EvidenceBody>,
}

/// How often the question was answered *it is right* at a store.
#[derive(Debug, Serialize, ToSchema)]
pub struct EvidenceBody {
    /// The code of the store.
    #[schema(example = "ford")]
    pub store: String,
    /// On how many nights of the last four weeks.
    pub nights: u32,
    /// The first of them.
    pub since: NaiveDate,
    /// The last of them.
    pub last: NaiveDate,
}

impl From<Wider> for ToleranceProposalBody {
    fn from(wider: Wider) -> Self {
        let stores = wider.stores.into_iter().map(|evidence| EvidenceBody {
            store: evidence.store.to_string(),
            nights: evidence.nights,
            since: evidence.since.into(),
            last: evidence.last.into(),
        });
        Self {
            kind: wider.kind.word(),
            item: wider.item.map(|item| item.to_string()),
            limit: wider.limit.limit,
            now: Number(wider.limit.now),
            proposed: Number(wider.limit.proposed),
            stores: stores.collect(),
        }
    }
}

/// The limits that answers of the last four weeks say are too narrow.
///
/// A question that is answered *as typed* or *counted again* at a store on so many nights
/// (`same_answers` of the limits) is likely the wrong question. Head office decides: the limit is set
/// with the network's settings.
#[utoipa::path(get, path = "/v1/tolerance-proposals", operation_id = "list_tolerance_proposals",
    tag = "reference",
    responses(
        (status = 200, description = "The proposals", body = Vec<ToleranceProposalBody>),
        OfficeOnly, SetUp))]
pub async fn list(deps: Data<Deps>, caller: Caller) -> Result<HttpResponse, AppError> {
    let found = tolerances::list(&deps, &caller).await?;
    let shown: Vec<ToleranceProposalBody> = found.into_iter().map(Into::into).collect();
    Ok(HttpResponse::Ok().json(shown))
}
