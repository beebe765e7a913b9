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
    /// Cost of what was used up (opening, deliveries and net transfers less closing) over sales, per
    /// cent. Safety discards are not in it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub food_cost: Option<OverSalesBody>,
    /// What deliveries cost beyond standard prices, where it is known what was paid; missing when
    /// nothing.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub price_effect: Option<Number>,
    /// Waste per 1,000 of sales, safety discards apart, over nights whose sales are known and that
    /// were not short.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub waste_of_sales: Option<RateBody>,
}

/// A cost of all items over the sales of the nights asked for. Items are counted in rhythms of their
/// own, and a week of cost is not divided by the sales of a Sunday: each item is held against the sales
/// of its own spans, and counts for as much as it is kept. So the numerator is the sum over items of
/// (cost ÷ sales of its own spans) × sales of the nights asked for on which it is kept; `items` tell
/// each of the four. A span within which a store changed hands has no sales and is in none of it.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct OverSalesBody {
    /// The ratio; its nights are those asked for that are covered by spans.
    #[serde(flatten)]
    pub rate: RateBody,
    /// Its parts by how often items are counted.
    pub rhythms: Vec<RhythmPartBody>,
    /// Items that are kept and have no count of their own to go by; what they cost is not in it.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub uncounted: Vec<String>,
}

/// The part of a cost over sales that items of one rhythm make.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct RhythmPartBody {
    /// How often they are counted: `night`, `week`, `period`, or `other` where nobody knows any more.
    #[schema(example = "week")]
    pub every: String,
    /// Their part of the ratio, over the same denominator; its nights are those asked for that their
    /// spans cover.
    #[serde(flatten)]
    pub rate: RateBody,
    /// What their spans cost, whatever nights those are of.
    pub cost: Number,
    /// How many items.
    pub items: u64,
}

/// Cost of what was used up.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct MoneyUsedBody {
    /// What it cost over all items, in the network's currency.
    pub cost: Number,
    /// Open nights of every item's spans, added up over items.
    pub item_nights: u64,
}

/// A variance over all items.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct MoneyVarianceBody {
    /// What was used beyond what should have been.
    pub amount: MoneyAmountBody,
    /// Cost of what sales should have used.
    pub expected: Number,
    /// Open nights of every item's spans, added up over items.
    pub item_nights: u64,
    /// Over expected use.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub of_expected: Option<RateBody>,
    /// Over sales, per cent.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub of_sales: Option<OverSalesBody>,
    /// What sales and preparation should have taken, over what was used.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub accounted: Option<RateBody>,
    /// Where it went. Over-portioning speaks for items with weighed portions only.
    pub causes: Causes<MoneyAmountBody>,
}
