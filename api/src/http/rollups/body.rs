use chrono::NaiveDate;
use serde::Serialize;
use utoipa::ToSchema;

use crate::http::quantity::Number;

/// A roll-up.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct RollupBody {
    /// The scope.
    #[schema(example = "district:upper")]
    pub scope: String,
    /// The first business date.
    pub from: NaiveDate,
    /// The last business date.
    pub to: NaiveDate,
    /// How the span is cut: `day`, `week` or `none`.
    pub by: super::ByBody,
    /// The currency of every amount of money, ISO 4217.
    #[schema(example = "EUR")]
    pub currency: String,
    /// The version of the rules that made the tallies.
    pub rules: i16,
    /// The scope's rows, then those of its children by code; each in order of its buckets.
    pub rows: Vec<RollupRow>,
}

/// One bucket of the scope or of a child.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct RollupRow {
    /// The child's code; missing for the scope itself.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(example = "ford")]
    pub child: Option<String>,
    /// The first business date of the bucket.
    pub from: NaiveDate,
    /// The last.
    pub to: NaiveDate,
    /// Nights of its stores, by what became of them.
    pub nights: NightsBody,
    /// Net sales, over nights whose sales are known.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub sales: Option<SalesBody>,
    /// Units that used food, over nights whose units are known.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub units: Option<UnitsBody>,
    /// Over all items, in money.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub money: Option<MoneyBody>,
    /// Each item, in its own unit.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub items: Vec<ItemBody>,
    /// Recorded waste by reason, in money over all items.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub waste_by_reason: Vec<WasteReasonBody>,
    /// Tickets of all dayparts and channels.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub tickets: Option<TicketsBody>,
    /// Each daypart and channel.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub dayparts: Vec<DaypartBody>,
    /// Minutes that items were out, added up over items; missing when none were recorded.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub stock_out_minutes: Option<u64>,
}

/// Nights of stores. A night that is not over is in none of these until it is counted.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct NightsBody {
    /// The store was open by its calendar: a count is due.
    pub expected: u64,
    /// Of those, with a count.
    pub counted: u64,
    /// Of the counted, with lines of the sheet unanswered.
    pub partial: u64,
    /// Of the expected, without a count.
    pub missing: u64,
    /// The store was closed: no count is due.
    pub closed: u64,
    /// Of the counted, left out of every ratio to sales or expected use, because the night's sales
    /// are unknown.
    pub left_out: u64,
}

/// Net sales.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct SalesBody {
    /// The amount.
    pub amount: Number,
    /// Nights whose sales are known.
    pub nights: u64,
}

/// Units that used food.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct UnitsBody {
    /// How many.
    pub count: u64,
    /// Nights whose units are known.
    pub nights: u64,
}

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
    /// The number.
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
    /// The number.
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

/// An item's measures.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct ItemBody {
    /// The item's code.
    #[schema(example = "potato")]
    pub item: String,
    /// What was used; missing without a span that closed in the bucket.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub used: Option<UsedBody>,
    /// Used against expected; missing while expected use of every span is unknown.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub variance: Option<VarianceBody>,
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
    /// Minutes it was out; missing when none were recorded.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub stock_out_minutes: Option<u64>,
}

/// What was used of an item, as purchased: from one count to the next.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct UsedBody {
    /// How much.
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
pub struct VarianceBody {
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
    /// How much.
    pub amount: ItemAmountBody,
    /// Its cost.
    pub cost: Number,
}

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
    /// Waste per 1,000 of sales, safety discards apart, over nights whose sales are known.
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

/// Recorded waste under one reason.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct WasteReasonBody {
    /// The reason's code.
    #[schema(example = "expired")]
    pub reason: String,
    /// Whether it was thrown away for safety; then it is in no share and counts against nobody.
    pub safety: bool,
    /// Its cost.
    pub cost: Number,
    /// Its share of the cost of all waste, safety discards apart, over nights with any record.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub share: Option<RateBody>,
}

/// How long tickets took. Percentiles come from merged histograms, never from an average.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct TicketsBody {
    /// All tickets: timed, never closed, and closed in a lump.
    pub orders: u64,
    /// Those with a time that counts.
    pub timed: u64,
    /// Half took no longer; exact to 15 minutes, then the longest time of a bin of 5 s to an hour
    /// and 60 s beyond. Missing below the network's least number of timed tickets.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub p50_seconds: Option<u32>,
    /// Nine of ten took no longer.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub p90_seconds: Option<u32>,
    /// Timed tickets within the target in force when they were tallied; missing without a target.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub within_target: Option<WithinTargetBody>,
    /// Never closed: in no percentile.
    pub never_closed: u64,
    /// Closed together in a lump: in no percentile.
    pub lump_closed: u64,
    /// More of them were never closed or closed in a lump than the network allows for.
    pub doubtful: bool,
}

/// A share of tickets with the range it is known to.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct WithinTargetBody {
    /// The share, per cent.
    #[serde(flatten)]
    pub share: RateBody,
    /// Lower end of Wilson's 95 % interval, per cent.
    pub low: Number,
    /// Upper end.
    pub high: Number,
}

/// A daypart and channel.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct DaypartBody {
    /// The daypart's code; `outside` for outside every daypart, `unknown` where nobody said.
    #[schema(example = "dinner")]
    pub daypart: String,
    /// The channel's code; `every` for what concerns all alike, `unknown` where nobody said.
    #[schema(example = "counter")]
    pub channel: String,
    /// Units that used food.
    pub units: u64,
    /// Net sales.
    pub sales: Number,
    /// Tickets; missing when there were none.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub tickets: Option<TicketsBody>,
    /// Minutes that items were out, added up over items; missing when none were recorded.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub stock_out_minutes: Option<u64>,
}
