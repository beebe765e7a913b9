use serde::Serialize;
use utoipa::ToSchema;

use super::{ItemAmountBody, RateBody};
use crate::http::quantity::Number;

/// Recorded waste under one reason.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct RollupWasteReasonBody {
    /// The reason's code.
    #[schema(example = "expired")]
    pub reason: String,
    /// Whether it was thrown away for safety; then it is in no share and counts against nobody.
    pub safety: bool,
    /// What it cost, in the network's currency.
    pub cost: Number,
    /// Its share of the cost of all waste, safety discards apart, over nights with any record.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub share: Option<RateBody>,
}

/// Recorded waste of one stage, safety discards apart.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct WasteStageBody {
    /// The stage's code; missing for waste as purchased.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(example = "trim")]
    pub stage: Option<String>,
    /// What it cost, in the network's currency.
    pub cost: Number,
    /// Its share of the cost of all waste, safety discards apart.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub share: Option<RateBody>,
}

/// Recorded waste of one daypart, safety discards apart.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct WasteDaypartBody {
    /// The daypart's code; missing where nobody said.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(example = "dinner")]
    pub daypart: Option<String>,
    /// What it cost, in the network's currency.
    pub cost: Number,
    /// Its share of the cost of all waste, safety discards apart.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub share: Option<RateBody>,
}

/// Recorded waste under one reason, stage and daypart.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct RollupWasteLineBody {
    /// The reason's code.
    #[schema(example = "expired")]
    pub reason: String,
    /// Whether it was thrown away for safety; then it is in no share and counts against nobody.
    pub safety: bool,
    /// The stage's code; missing for waste as purchased.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub stage: Option<String>,
    /// The daypart's code; missing where nobody said.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub daypart: Option<String>,
    /// How often it was written down, once a night and item.
    pub lines: u64,
    /// How much, as purchased; only where one item is asked for.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub amount: Option<ItemAmountBody>,
    /// What it cost, in the network's currency.
    pub cost: Number,
    /// Its share of the cost of all waste, safety discards apart.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub share: Option<RateBody>,
}
