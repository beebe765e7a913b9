mod amounts;
mod compared;
mod items;
mod money;
mod tickets;
mod waste;

use chrono::{DateTime, NaiveDate, Utc};
use serde::Serialize;
use utoipa::ToSchema;

use crate::http::quantity::Number;

pub use amounts::*;
pub use compared::*;
pub use items::*;
pub use money::*;
pub use tickets::*;
pub use waste::*;

/// What the nights of a scope and span add up to.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct RollupBody {
    /// What was asked for, such as `district:upper`.
    #[schema(example = "district:upper")]
    pub scope: String,
    /// The first business date.
    pub from: NaiveDate,
    /// The last business date.
    pub to: NaiveDate,
    /// How the span is cut: `day`, `week`, `period` or `none`.
    pub by: super::ByBody,
    /// The currency of every amount of money, ISO 4217.
    #[schema(example = "EUR")]
    pub currency: String,
    /// Of a roll-up as it was known at a moment: the moment, which is before the one that was asked for
    /// while something older was still being recorded. Asked again of this one, the answer is the same.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub as_known_at: Option<DateTime<Utc>>,
    /// The oldest version of the rules that made any of the nights: after a change of rules nights of
    /// before answer as they are until they were worked out anew.
    pub rules: i16,
    /// The scope's rows, then those of its children by code; each in order of its buckets.
    pub rows: Vec<RollupRow>,
    /// The children by the measure that `rank_by` asks for.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub ranking: Option<RankingBody>,
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
    /// The last business date of the bucket.
    pub to: NaiveDate,
    /// Whether every night of it is over and no count is missing; `nights` tells what is pending.
    pub complete: bool,
    /// Nights of its stores, by what became of them.
    pub nights: NightsBody,
    /// The row against the same of other spans, as `compare` asks for.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub compared: Vec<ComparedSpanBody>,
    /// Spans of use that are in no other figure because their facts cannot be right, over all items;
    /// missing without any.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub doubtful: Option<DoubtfulBody>,
    /// How many spans of use said something else before a late fact, another night's change or a
    /// restatement, over all items; missing without any. `…/rollups/changes` tells what and why.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub restated_spans: Option<u64>,
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
    pub items: Vec<RollupItemBody>,
    /// Recorded waste by reason, in money over all items.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub waste_by_reason: Vec<RollupWasteReasonBody>,
    /// The same by stage, safety discards apart.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub waste_by_stage: Vec<WasteStageBody>,
    /// The same by daypart, safety discards apart.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub waste_by_daypart: Vec<WasteDaypartBody>,
    /// The same by reason, stage and daypart together; only where `waste_lines` is asked for.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub waste_lines: Vec<RollupWasteLineBody>,
    /// Tickets of all dayparts and channels.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub tickets: Option<RollupTicketsBody>,
    /// Each daypart and channel.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub dayparts: Vec<RollupDaypartBody>,
    /// Minutes that items were out, added up over items; missing when none were recorded.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub stock_out_minutes: Option<u64>,
}

/// Nights of stores. A night that is not over is only to come until it is counted.
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
    /// Of the expected, traded for much less than the usual hours: in no ratio of waste to sales.
    /// Its amounts stay, and its tickets, which are timed each by itself.
    pub short: u64,
    /// Of the missing, with a count that waits for an answer or for approval.
    pub held: u64,
    /// Items due, added up over the counted nights, whose count is doubtful: as if not counted.
    pub items_left_out: u64,
    /// Open nights that are not over and not counted yet: in none of the others.
    pub to_come: u64,
}

/// Net sales of the nights whose sales are known.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct SalesBody {
    /// Net of tax and discount, in the network's currency.
    pub amount: Number,
    /// Nights whose sales are known.
    pub nights: u64,
}

/// Units that used food.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct UnitsBody {
    /// How many units used food.
    pub count: u64,
    /// Nights whose units are known.
    pub nights: u64,
}
