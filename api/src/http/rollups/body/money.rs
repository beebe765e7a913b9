use serde::Serialize;
use utoipa::ToSchema;

use super::{Causes, MoneyAmountBody, RateBody};
use crate::http::quantity::Number;

/// All items, in money. Amounts of different items do not add; their costs do.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct MoneyBody {
    /// Cost of what was used up: used less made into other items, so that nothing is counted
    /// twice; missing without a price.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub used: Option<MoneyUsedBody>,
    /// Used against expected, over spans that have expected use and a price.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub variance: Option<MoneyVarianceBody>,
    /// Cost of recorded waste, safety discards apart.
    pub wasted: Number,
    /// Cost of recorded safety discards. They never count against a store.
    pub wasted_safety: Number,
    /// Cost of what was used up (opening, deliveries and net transfers less closing) over the sales of
    /// the nights its spans cover, each night once, per cent. Safety discards are not in it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub food_cost: Option<RateBody>,
    /// What deliveries cost beyond standard prices, where it is known what was paid; missing when
    /// nothing.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub price_effect: Option<Number>,
    /// Waste per 1,000 of sales, safety discards apart, over nights whose sales are known and that
    /// were not short.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub waste_of_sales: Option<RateBody>,
}

/// Cost of what was used up.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct MoneyUsedBody {
    /// The cost.
    pub cost: Number,
    /// Open nights of every item's spans, added up over items.
    pub item_nights: u64,
}

/// A variance over all items.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct MoneyVarianceBody {
    /// The variance.
    pub amount: MoneyAmountBody,
    /// Cost of what sales should have used.
    pub expected: Number,
    /// Open nights of every item's spans, added up over items.
    pub item_nights: u64,
    /// Over expected use.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub of_expected: Option<RateBody>,
    /// Over the sales of the nights its spans cover, each night once. A span that you see only in
    /// part is in neither.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub of_sales: Option<RateBody>,
    /// What sales and preparation should have taken, over what was used.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub accounted: Option<RateBody>,
    /// Where it went. Over-portioning speaks for items with weighed portions only.
    pub causes: Causes<MoneyAmountBody>,
}
