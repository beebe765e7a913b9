//! What a receipt says on the wire.

use chrono::{DateTime, NaiveDate, Utc};
use serde::Serialize;
use utoipa::ToSchema;

use crate::http::amount::{AmountBody, RatioBody};
use crate::http::checks::{CheckBody, HeldBody, ProposedBody};
use crate::http::nights::CountLineBody;
use crate::http::quantity::Number;

/// What a night means, as far as is known.
#[derive(Serialize, ToSchema)]
pub struct ReceiptBody {
    /// The code of the store.
    #[schema(example = "ford")]
    pub store: String,
    /// The business date.
    pub business_date: NaiveDate,
    /// The network's currency; every sum of money below is in it.
    #[schema(example = "EUR")]
    pub currency: String,
    /// The version of the rules behind the figures.
    pub rules: i16,
    /// The figures rest on the reference data known at this moment.
    pub known_at: DateTime<Utc>,
    /// Of a receipt as it was known at a moment: the moment, which is before the one that was asked for
    /// while something older was still being recorded. Asked again of this one, the answer is the same.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub as_known_at: Option<DateTime<Utc>>,
    /// The count as it stands; missing while there is none.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub count: Option<CountBody>,
    /// Items due on the sheet, and how many of them were counted. Less than all is a partial count:
    /// what is missing is blank, not zero.
    pub items_due: u64,
    /// Items due that were counted.
    pub items_counted: u64,
    /// Items due whose count is doubtful and left out: they are as if they had not been counted.
    pub items_left_out: u64,
    /// Which items of the count are left out, and why.
    pub left_out: Vec<LeftOutItemBody>,
    /// A count that waits for answers; it displaces nothing.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub held: Option<HeldBody>,
    /// A change that waits for another person's approval; it displaces nothing.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub proposed: Option<ProposedBody>,
    /// What there is to say of the count, and asks nothing.
    pub flags: Vec<CheckBody>,
    /// Whether the store traded for much less than its usual hours.
    pub short_day: bool,
    /// Where sales come from: a till's feed, typed, or nowhere yet.
    pub sales_from: SalesFrom,
    /// Net sales; missing while unknown.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub sales: Option<Number>,
    /// Units that used food; missing while unknown.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub units: Option<u64>,
    /// Codes that the till sent and nobody mapped, with their units. They are kept, and counted as
    /// soon as head office maps the code.
    pub unmapped: Vec<UnmappedBody>,
    /// What is known of each item.
    pub items: Vec<NightItemBody>,
    /// What was thrown away, by reason.
    pub waste: Vec<NightWasteReasonBody>,
    /// Batches that were weighed.
    pub batches: Vec<BatchBody>,
    /// Preparations whose inputs were weighed.
    pub preparations: Vec<WeighedPreparationBody>,
    /// Ticket times of the night, and by daypart and channel.
    pub tickets: NightTicketsBody,
    /// By daypart and channel.
    pub dayparts: Vec<NightDaypartBody>,
}

/// An item whose count is left out.
#[derive(Serialize, ToSchema)]
pub struct LeftOutItemBody {
    /// The code of the item whose count is left out.
    #[schema(example = "potato")]
    pub item: String,
    /// What was asked or noticed and not cleared up.
    pub why: Vec<String>,
}

/// A count on record, as typed and as understood.
#[derive(Serialize, ToSchema)]
pub struct CountBody {
    /// The number of its revision, from 1.
    pub revision: i32,
    /// When it was recorded.
    pub recorded_at: DateTime<Utc>,
    /// Why it was revised.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub reason: Option<String>,
    /// Whether every line of the sheet was answered.
    pub complete: bool,
    /// Who counted; told to those who work in the store.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub counted_by: Vec<String>,
    /// What stood where, a line each.
    pub lines: Vec<UnderstoodBody>,
}

/// A line as typed, and what it comes to.
#[derive(Serialize, ToSchema)]
pub struct UnderstoodBody {
    /// The line as it was typed.
    pub typed: CountLineBody,
    /// What it comes to as purchased, the pan's tare taken off.
    pub as_purchased: AmountBody,
}

/// Where sales come from.
#[derive(Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum SalesFrom {
    /// They come from a till's feed.
    Feed,
    /// They were typed with the count.
    Typed,
    /// Nowhere yet: expected use is pending.
    None,
}

/// Units under a code nobody mapped.
#[derive(Serialize, ToSchema)]
pub struct UnmappedBody {
    /// The till's code.
    pub code: String,
    /// How many units were sold under it.
    pub units: u64,
}

/// An item of a night, as purchased.
#[derive(Serialize, ToSchema)]
pub struct NightItemBody {
    /// The code of the item.
    #[schema(example = "potato")]
    pub item: String,
    /// What people call it.
    pub title: String,
    /// What is known of its use.
    pub known: KnownBody,
    /// What stood there in the end, as purchased; missing while it is not counted in full, or its
    /// count is left out.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub counted: Option<AmountBody>,
    /// Its use since the count before; missing where it was not counted, or for the first time.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub usage: Option<UsageBody>,
    /// Thrown away on this date, safety discards apart.
    pub wasted: AmountBody,
    /// Thrown away on this date for safety. It never counts against a store.
    pub wasted_for_safety: AmountBody,
    /// What deliveries of this date cost beyond the standard price; missing where nobody wrote down
    /// what was paid, or it was the standard. It is no part of the variance.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub price_effect: Option<Number>,
    /// Minutes it was out.
    pub stock_out_minutes: u64,
    /// Where every figure opens to its rows: add `&figure=` with a figure's name.
    #[schema(example = "/v1/stores/ford/nights/2026-06-15/trace?item=potato")]
    pub trace: String,
}

/// What is known of an item's use.
#[derive(Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum KnownBody {
    /// It was not counted; that is not zero.
    NotCounted,
    /// Counted for the first time: the next count has something to compare with.
    Baseline,
    /// Counted; expected use is pending until sales are known.
    Pending,
    /// Counted, and compared with what sales should have used.
    Compared,
}

/// Use of an item between two counts.
#[derive(Serialize, ToSchema)]
pub struct UsageBody {
    /// The date of the count it starts from.
    pub since: NaiveDate,
    /// Open nights in it.
    pub nights: u64,
    /// What stood there then.
    pub opening: AmountBody,
    /// What suppliers delivered between the two counts.
    pub received: AmountBody,
    /// Come from other stores.
    pub transferred_in: AmountBody,
    /// Gone to other stores.
    pub transferred_out: AmountBody,
    /// Prepared here from other items.
    pub made: AmountBody,
    /// Thrown away for safety. It left the stock and was not used: it counts against nobody.
    pub safety: AmountBody,
    /// What stands there now.
    pub closing: AmountBody,
    /// opening + received + transferred in + made − transferred out − safety − closing.
    pub used: AmountBody,
    /// Its cost; missing without a price.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub used_cost: Option<Number>,
    /// Went into preparing other items, at their standard.
    pub made_into: AmountBody,
    /// What sales should have used; missing while pending.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub expected: Option<AmountBody>,
    /// used − made into − expected, with its causes; missing while pending.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub variance: Option<NightVarianceBody>,
    /// Why these figures are kept out of what compares stores: `negative_use` (more stood there than
    /// could: a delivery or transfer is missing?), `waste_above_handled`, `impossible_yield`,
    /// `short_days`. They go away by themselves when what is missing is entered.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub doubts: Vec<&'static str>,
    /// When a later entry or another night's change last restated these figures.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub restated_at: Option<DateTime<Utc>>,
}

/// A variance and where it went, in physical order. Negative parts stay negative.
#[derive(Serialize, ToSchema)]
pub struct NightVarianceBody {
    /// The variance as a whole.
    pub total: VariancePartBody,
    /// As a share of what should have been used: expected + made into.
    pub of_expected: RatioBody,
    /// As a share of net sales; missing while they are unknown.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub of_sales: Option<RatioBody>,
    /// The share of use that is accounted for: (expected + made into) ÷ used.
    pub accounted: RatioBody,
    /// Written down as thrown away, safety discards apart.
    pub waste: VariancePartBody,
    /// Lost in weighed batches beyond the standard yield.
    pub yield_loss: VariancePartBody,
    /// Served beyond the recipe, as portions weighed over the last nights say; missing without any.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub over_portioning: Option<VariancePartBody>,
    /// Portions weighed that this rests on.
    pub portions_weighed: u64,
    /// The rest. The loss of the last cooking is rarely weighed: what of it differs from the
    /// standard hides here and in over-portioning.
    pub unexplained: VariancePartBody,
    /// What the rest says, given how far it may be off.
    #[schema(example = "Cannot be told from zero: 2.413 kg, give or take 5.205.")]
    pub reading: String,
}

/// A part of a variance.
#[derive(Serialize, ToSchema)]
pub struct VariancePartBody {
    /// The amount of the item.
    pub amount: AmountBody,
    /// How far that may be off, one standard deviation, in the same unit; missing where it is
    /// exact or nobody can tell.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub give_or_take: Option<Number>,
    /// Its cost; missing without a price.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub cost: Option<Number>,
}

/// Waste under one reason.
#[derive(Serialize, ToSchema)]
pub struct NightWasteReasonBody {
    /// The code of the reason.
    #[schema(example = "expired")]
    pub reason: String,
    /// Whether for safety; that never counts against a store.
    pub safety: bool,
    /// What it cost in all, at standard prices.
    pub cost: Number,
    /// What was thrown away under it, item by item.
    pub lines: Vec<NightWasteLineBody>,
}

/// Waste of an item.
#[derive(Serialize, ToSchema)]
pub struct NightWasteLineBody {
    /// The code of the item that was thrown away.
    pub item: String,
    /// The stage; missing for as purchased.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub stage: Option<String>,
    /// The daypart; missing if nobody knows.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub daypart: Option<String>,
    /// How much, as purchased.
    pub amount: AmountBody,
    /// What it cost, at the standard price.
    pub cost: Number,
}

/// A batch that was weighed.
#[derive(Serialize, ToSchema)]
pub struct BatchBody {
    /// The code of the item that was worked on.
    pub item: String,
    /// The lot as the supplier names it; missing where nobody wrote it down.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub lot: Option<String>,
    /// The yield of each stage that was weighed, in order of work.
    pub stages: Vec<StageYieldBody>,
}

/// The yield of a stage.
#[derive(Serialize, ToSchema)]
pub struct StageYieldBody {
    /// The code of the stage that was weighed.
    pub stage: String,
    /// Weight out ÷ weight in, since the stage weighed before it.
    pub found: Number,
    /// The standard, of all stages since the one weighed before it.
    pub standard: Number,
    /// How the one compares with the other.
    pub grade: GradeBody,
}

/// A preparation whose inputs were weighed.
#[derive(Serialize, ToSchema)]
pub struct WeighedPreparationBody {
    /// The code of the item that was made.
    pub item: String,
    /// How much of it.
    pub made: AmountBody,
    /// What other amounts than the recipe's came to; missing when an input has no price, or cannot
    /// be told as a weight.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub effect: Option<RecipeEffectBody>,
}

/// What other amounts than the recipe's came to, at standard prices. Above zero is dearer.
#[derive(Serialize, ToSchema)]
pub struct RecipeEffectBody {
    /// For other proportions than the recipe's.
    pub mix: Number,
    /// For more or less in all than what was made should have taken.
    pub yielded: Number,
}

/// Three words that grade a figure.
#[derive(Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum GradeBody {
    /// Within what is usual.
    Within,
    /// Near the edge of it.
    NearTheEdge,
    /// So far off that it is worth a look.
    Outside,
}

/// How long orders took.
#[derive(Serialize, ToSchema)]
pub struct NightTicketsBody {
    /// Every order that was placed, whether it was timed or not.
    pub orders: u64,
    /// Orders whose time counts.
    pub timed: u64,
    /// The time half of them took at most, in seconds; missing below the network's least number.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub p50_s: Option<u32>,
    /// The time nine in ten took at most, in seconds; missing below the network's least number.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub p90_s: Option<u32>,
    /// Within the target; missing where there is no target.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub within_target: Option<NightWithinTargetBody>,
    /// Never closed: no time, but counted.
    pub never_closed: u64,
    /// Closed in a lump to clear the screen: no time, but counted.
    pub lump_closed: u64,
    /// Whether so many have no time that the data are doubtful.
    pub doubtful: bool,
}

/// Orders within their target.
#[derive(Serialize, ToSchema)]
pub struct NightWithinTargetBody {
    /// Orders handed off within their target.
    pub within: u64,
    /// Orders that had a target.
    pub of: u64,
    /// The share in percent.
    pub percent: Number,
    /// The low end of the 95 % interval (Wilson), in percent.
    pub low: Number,
    /// The high end of that interval, in percent.
    pub high: Number,
}

/// A daypart and channel.
#[derive(Serialize, ToSchema)]
pub struct NightDaypartBody {
    /// The daypart; `outside` and `unknown` are kept words.
    pub daypart: String,
    /// The channel; `unknown` and `every` are kept words.
    pub channel: String,
    /// Units that used food.
    pub units: u64,
    /// Net sales in it, in the network's currency.
    pub sales: Number,
    /// How long its orders took.
    pub tickets: NightTicketsBody,
    /// Minutes that items were out, added up over items.
    pub stock_out_minutes: u64,
}
