use serde::Serialize;
use utoipa::ToSchema;

use super::{Causes, DoubtfulBody, ItemAmountBody, MoneyAmountBody, RateBody};
use crate::http::quantity::Number;

/// An item's measures.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct RollupItemBody {
    /// The item's code.
    #[schema(example = "potato")]
    pub item: String,
    /// Spans in doubt, which are in no other figure; missing without any.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub doubtful: Option<DoubtfulBody>,
    /// How many of its spans said something else before; missing without any.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub restated_spans: Option<u64>,
    /// What was used; missing without a span that closed in the bucket.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub used: Option<UsedBody>,
    /// Used against expected; missing while expected use of every span is unknown.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub variance: Option<RollupVarianceBody>,
    /// The same in money; missing without a price.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub variance_cost: Option<VarianceCostBody>,
    /// Recorded waste, safety discards apart; missing when none was recorded.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub wasted: Option<WastedBody>,
    /// Recorded safety discards. They never count against a store.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub wasted_safety: Option<WastedBody>,
    /// What came out of batches over what should have by the standard; missing without batches.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub batch_yield: Option<RateBody>,
    /// Cost of use over the sales of the nights of its own spans, per cent, safety discards apart. Its
    /// nights are those of them that were asked for.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub food_cost: Option<RateBody>,
    /// The nights asked for on which it is kept.
    pub kept: KeptBody,
    /// How many of its spans a change of owner falls into: they have no sales; missing without any.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub owner_changed_spans: Option<u64>,
    /// What deliveries cost beyond the standard price, where it is known what was paid; missing when
    /// nothing.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub price_effect: Option<Number>,
    /// Minutes it was out; missing when none were recorded.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub stock_out_minutes: Option<u64>,
}

/// Nights on which an item is kept.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct KeptBody {
    /// How many of the nights asked for the item is kept on.
    pub nights: u64,
    /// Net sales of those whose sales are known.
    pub sales: Number,
}

/// What was used of an item, as purchased: from one count to the next.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct UsedBody {
    /// How much of the item was used, as purchased.
    pub amount: ItemAmountBody,
    /// How much of it preparing other items should have taken; missing when none.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub made_into: Option<ItemAmountBody>,
    /// Open nights of the spans.
    pub nights: u64,
    /// Its cost, what was made into others included; missing without a price.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub cost: Option<Number>,
    /// Open nights of the spans with a price.
    pub cost_nights: u64,
}

/// Used less made into others less expected, over spans whose expected use is known.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct RollupVarianceBody {
    /// The variance. Its error is that of the counts at the ends of each run of spans: a count
    /// between two spans is in both with opposite signs and cancels.
    pub amount: ItemAmountBody,
    /// What sales should have used.
    pub expected: ItemAmountBody,
    /// Open nights of those spans.
    pub nights: u64,
    /// Over expected use; missing when none was expected.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub of_expected: Option<RateBody>,
    /// What sales and preparation should have taken, over what was used.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub accounted: Option<RateBody>,
    /// Where it went.
    pub causes: Causes<ItemAmountBody>,
}

/// A variance in money, over spans that have expected use and a price.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct VarianceCostBody {
    /// The variance. Errors are valued at the mean cost of a unit used.
    pub amount: MoneyAmountBody,
    /// Cost of what sales should have used.
    pub expected: Number,
    /// Open nights of those spans.
    pub nights: u64,
    /// Over sales, on nights whose sales are known.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub of_sales: Option<RateBody>,
    /// Where it went.
    pub causes: Causes<MoneyAmountBody>,
}

/// Recorded waste of an item, as purchased.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct WastedBody {
    /// How much of the item was thrown away.
    pub amount: ItemAmountBody,
    /// What that cost, in the network's currency.
    pub cost: Number,
}
