use std::collections::BTreeMap;

use serde::Serialize;
use utoipa::ToSchema;

use crate::http::quantity::Number;

/// A ratio of two sums over the same nights. Ratios do not add: ask for the wider scope or span.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct RateBody {
    /// Numerator over denominator, times `per`, to two places.
    #[schema(value_type = String, example = "8.83")]
    pub value: Number,
    /// What it is for: 100 for per cent, 1000 for waste of sales.
    #[schema(example = 100)]
    pub per: u32,
    /// What is compared: an item's amount in the unit of its amounts, or money.
    pub numerator: Number,
    /// What it is compared to, in the same unit.
    pub denominator: Number,
    /// The nights that both sums come from. Over all items these are item nights (the open nights
    /// of every item's spans, added up over items), but store nights where it is compared to sales.
    pub nights: u64,
}

/// An amount of an item. It may be below zero: a variance, or use that shows a missing delivery.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct ItemAmountBody {
    /// How much, in the unit beside it.
    pub value: Number,
    /// `kg`, `l` or `each`.
    #[schema(example = "kg")]
    pub unit: String,
    /// How far it may be off, one standard deviation, in the same unit; missing when nobody can
    /// tell or nothing was estimated.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub sd: Option<Number>,
}

/// An amount of money. It may be below zero.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct MoneyAmountBody {
    /// How much money, in the network's currency.
    pub value: Number,
    /// How far it may be off, one standard deviation; missing when nobody can tell or nothing was
    /// estimated.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub sd: Option<Number>,
}

/// A variance by cause, in physical order; the parts add up to it. Negative parts stay negative.
#[derive(Debug, Clone, Serialize, ToSchema)]
#[schema(bound = "T: ToSchema")]
pub struct Causes<T: ToSchema> {
    /// Written down as thrown away, safety discards apart: they are not used.
    pub waste: T,
    /// Lost in batches beyond the standard yield.
    pub yield_loss: T,
    /// Served beyond the recipe, as weighed portions say; missing without any. A night's portions
    /// are pooled with those of the nights before it, as many as the network's settings say.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub over_portioning: Option<T>,
    /// The rest. The loss in the last cooking is rarely weighed; it hides here and in the part
    /// above. One whose `sd` is larger than itself cannot be told from zero.
    pub unexplained: T,
}

/// Spans of use whose facts cannot be right. They are in no other figure.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct DoubtfulBody {
    /// How many spans are in doubt.
    pub spans: u64,
    /// Cost of what they say was used, where they have a price. It may be below zero.
    pub used_cost: Number,
    /// How many have each doubt; one may have several: `negative_use`, `waste_above_handled`,
    /// `impossible_yield`, `short_days`.
    pub by: BTreeMap<String, u64>,
}
