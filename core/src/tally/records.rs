use std::collections::{BTreeMap, BTreeSet};

use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};

use super::Doubt;
use crate::calendar::BusinessDate;
use crate::ids::{ChannelId, DaypartId, ItemId, ReasonId, StageId};
use crate::money::Money;
use crate::quantity::Tallied;
use crate::tickets::TicketTally;
use crate::usage::Samples;

/// A night as it is kept: what its date adds up to, and the spans that end with its counts.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Night {
    /// What the date adds up to.
    pub day: Day,
    /// By item, the use since the count before.
    pub spans: BTreeMap<ItemId, EndedSpan>,
}

/// A span that ended, as it is kept.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct EndedSpan {
    /// The use between the two counts.
    pub span: ItemSpan,
    /// When a late fact, another night's change or a restatement last made it say something else.
    pub restated_at: Option<DateTime<Utc>>,
}

/// Everything the facts of a store's date add up to, before spans.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Day {
    /// What happened to each item of which anything was recorded.
    pub items: BTreeMap<ItemId, ItemDay>,
    /// By daypart and channel.
    pub dayparts: BTreeMap<DaypartKey, DaypartTally>,
    /// The night itself.
    pub night: NightTally,
    /// The items that the store keeps on the date: those it counts, whenever that is.
    pub kept: BTreeSet<ItemId>,
    /// Units under till codes that nobody mapped; not kept.
    pub unmapped: BTreeMap<String, u64>,
}

/// What happened to an item on one date, as purchased.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct ItemDay {
    /// What suppliers brought.
    pub received: Tallied,
    /// What deliveries cost beyond the standard price, where it is known what was paid.
    pub price_effect: Money,
    /// Come from other stores.
    pub transferred_in: Tallied,
    /// Gone to other stores.
    pub transferred_out: Tallied,
    /// Prepared here from other items.
    pub made: Tallied,
    /// What preparing other items should have taken.
    pub made_into: Tallied,
    /// Cost of what preparing others should have taken, at the standard price.
    pub made_into_cost: Money,
    /// What sales should have used.
    pub expected: Tallied,
    /// Cost of what sales should have used, at the standard price.
    pub expected_cost: Money,
    /// Thrown away, safety discards included.
    pub wasted: Tallied,
    /// Cost of what was thrown away, safety discards included.
    pub wasted_cost: Money,
    /// The part of it thrown away for safety.
    pub wasted_safety: Tallied,
    /// Cost of the part thrown away for safety.
    pub wasted_safety_cost: Money,
    /// The waste, line by line.
    pub waste: Vec<WasteLine>,
    /// Weighed into batches, at the stage they started from.
    pub batch_in: Tallied,
    /// Weighed out of them, at the stage they ended with.
    pub batch_out: Tallied,
    /// What should have come out at that stage.
    pub batch_expected_out: Tallied,
    /// What batches lost beyond the standard, as purchased; negative when they lost less.
    pub yield_loss: Tallied,
    /// Cost of what batches lost beyond the standard; negative when they lost less.
    pub yield_loss_cost: Money,
    /// Portions weighed on the date, as ratios to their recipes.
    pub samples: Samples,
    /// Whether more came out of a stage of a batch than can.
    pub over_cap: bool,
    /// Minutes it was out, in all.
    pub stock_out_minutes: u64,
    /// The closing count, if the item was counted.
    pub count: Option<Counted>,
}

/// A closing count.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Counted {
    /// What stood there.
    pub closing: Tallied,
    /// How far that may be off, one standard deviation.
    pub sd: Tallied,
}

/// Waste of an item under one stage, reason and daypart.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct WasteLine {
    /// At which stage; none for as purchased.
    pub stage: Option<StageId>,
    /// The reason it was thrown away for.
    pub reason: ReasonId,
    /// Whether for safety.
    pub safety: bool,
    /// When; none if nobody knows.
    pub daypart: Option<DaypartId>,
    /// How much, as purchased, in thousandths.
    #[serde(with = "whole_tallied")]
    pub amount: Tallied,
    /// Its cost, in ten-thousandths.
    #[serde(with = "whole_money")]
    pub cost: Money,
}

/// What is kept inside a document beside whole columns is written whole as well.
mod whole_tallied {
    use serde::{Deserialize, Deserializer, Serializer};

    use crate::quantity::Tallied;

    pub fn serialize<S: Serializer>(amount: &Tallied, to: S) -> Result<S::Ok, S::Error> {
        to.serialize_i64(amount.thousandths())
    }

    pub fn deserialize<'de, D: Deserializer<'de>>(from: D) -> Result<Tallied, D::Error> {
        i64::deserialize(from).map(Tallied::from_thousandths)
    }
}

mod whole_money {
    use serde::{Deserialize, Deserializer, Serializer};

    use crate::money::Money;

    pub fn serialize<S: Serializer>(money: &Money, to: S) -> Result<S::Ok, S::Error> {
        to.serialize_i64(money.ten_thousandths())
    }

    pub fn deserialize<'de, D: Deserializer<'de>>(from: D) -> Result<Money, D::Error> {
        i64::deserialize(from).map(Money::from_ten_thousandths)
    }
}

/// Usage of an item between two counts, as purchased.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ItemSpan {
    /// The date of the count it starts from.
    pub opened_on: BusinessDate,
    /// Open nights in it.
    pub nights: u64,
    /// The count it starts from.
    pub opening: Counted,
    /// What suppliers brought since the opening count.
    pub received: Tallied,
    /// Come from other stores.
    pub transferred_in: Tallied,
    /// Gone to other stores.
    pub transferred_out: Tallied,
    /// What was prepared here from other items since the opening count.
    pub made: Tallied,
    /// The count it ends with.
    pub closing: Counted,
    /// What was used, by the formula of [`super::Figure::Used`].
    pub used: Tallied,
    /// Cost of what was used; none without a price.
    pub used_cost: Option<Money>,
    /// What preparing other items should have taken.
    pub made_into: Tallied,
    /// Cost of what preparing others should have taken, at the price of each night.
    pub made_into_cost: Money,
    /// What sales should have used; none while sales of a night are unknown.
    pub expected: Option<Tallied>,
    /// Cost of what sales should have used, at the price of each night; none while pending.
    pub expected_cost: Option<Money>,
    /// The cost of used less made into others less expected; none without a price or while pending.
    pub variance_cost: Option<Money>,
    /// Thrown away and used up by it: what was thrown away for safety is not in it.
    pub wasted: Tallied,
    /// Cost of what was thrown away, safety discards apart.
    pub wasted_cost: Money,
    /// Thrown away for safety: it left the stock and was not used.
    pub wasted_safety: Tallied,
    /// Cost of what was thrown away for safety.
    pub wasted_safety_cost: Money,
    /// What batches lost beyond the standard.
    pub yield_loss: Tallied,
    /// Cost of what batches lost beyond the standard.
    pub yield_loss_cost: Money,
    /// Portions weighed in its nights, as ratios to their recipes.
    pub samples: Samples,
    /// Net sales of its nights; none while unknown, and none when the store changed hands in between.
    pub sales: Option<Money>,
    /// Whether the store changed hands in between: the span is neither owner's.
    pub owner_changed: bool,
    /// Why it is kept out of what compares stores.
    pub doubts: BTreeSet<Doubt>,
}

impl ItemSpan {
    /// What should have been used: by sales, and by preparing other items; none while pending.
    pub fn due(&self) -> Option<Tallied> {
        self.expected.map(|expected| expected + self.made_into)
    }

    /// Used less what it was used for; none while expected use is pending.
    pub fn variance(&self) -> Option<Tallied> {
        self.expected.map(|expected| self.used - self.made_into - expected)
    }
}

/// A daypart and channel.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct DaypartKey {
    /// The stretch of the trading day; one that is kept for what lies outside of all, or is unknown.
    pub daypart: DaypartId,
    /// How orders came; one that is kept for all of them together, or for unknown.
    pub channel: ChannelId,
}

/// Orders, sales and ticket times of a daypart and channel.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct DaypartTally {
    /// Units that used food.
    pub units: u64,
    /// What was taken, net of tax and discount.
    pub sales: Money,
    /// Tickets and how long they took.
    pub tickets: TicketTally,
    /// Minutes that items were out, added up over items.
    pub stock_out_minutes: u64,
}

impl DaypartTally {
    /// This and another together.
    #[must_use]
    pub fn merge(self, other: &Self) -> Self {
        Self {
            units: self.units + other.units,
            sales: self.sales + other.sales,
            tickets: self.tickets.merge(&other.tickets),
            stock_out_minutes: self.stock_out_minutes + other.stock_out_minutes,
        }
    }
}

/// Where a night's sales come from.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum SalesSource {
    /// A till's feed.
    Feed,
    /// Typed with the count.
    Typed,
    /// No till has fed any, and none were typed yet.
    #[default]
    None,
}

impl SalesSource {
    /// Its word, by which it is kept.
    pub fn word(self) -> &'static str {
        match self {
            Self::Feed => "feed",
            Self::Typed => "typed",
            Self::None => "none",
        }
    }
}

/// The night itself.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct NightTally {
    /// Whether a count was taken.
    pub counted: bool,
    /// Whether it left lines of the sheet unanswered.
    pub partial: bool,
    /// How many items were to be counted on the date.
    pub items_due: u64,
    /// Items due that were counted.
    pub items_counted: u64,
    /// Items due whose count is doubtful and left out.
    pub items_left_out: u64,
    /// Where sales come from.
    pub sales_source: SalesSource,
    /// Net sales; none while unknown.
    pub sales: Option<Money>,
    /// Units that used food; none while unknown.
    pub units: Option<u64>,
    /// Cost of what was thrown away, safety discards included.
    pub wasted_cost: Money,
    /// Cost of the part thrown away for safety.
    pub wasted_safety_cost: Money,
    /// Units under till codes that nobody mapped.
    pub unmapped_units: u64,
    /// Whether the store traded for much less than its usual hours.
    pub short: bool,
}

#[cfg(test)]
mod tests;
