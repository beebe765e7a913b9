use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};

use crate::ids::{ChannelId, DaypartId, ItemId};
use crate::money::Money;

/// A batch of a till's feed, under the till's own id.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct TillBatch {
    /// What was sold, a line of the till each.
    #[serde(default)]
    pub sales: Vec<Sale>,
    /// Orders and how long they took.
    #[serde(default)]
    pub tickets: Vec<TillTicket>,
}

/// Units sold under a till's code.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Sale {
    /// The till's id of the line, where it may send it again: the later one counts.
    #[serde(default)]
    pub line: Option<String>,
    /// The till's code of the product and size.
    pub code: String,
    /// How many units were sold.
    pub units: u32,
    /// What was taken for them, net of tax and discount, in all.
    pub net: Money,
    /// The part of the day or the instant at which they were sold.
    #[serde(default)]
    pub when: When,
    /// How they were ordered.
    #[serde(default)]
    pub channel: Option<ChannelId>,
    /// What was added, to all of these units together.
    #[serde(default)]
    pub additions: Vec<AdditionSold>,
    /// Items left out of each unit.
    #[serde(default)]
    pub leave_outs: Vec<ItemId>,
    /// What became of them.
    #[serde(default)]
    pub outcome: Outcome,
}

/// Something added under a till's code.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct AdditionSold {
    /// The till's code of the addition.
    pub code: String,
    /// How many were added, to all units of the sale together.
    pub units: u32,
}

/// When something was sold.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum When {
    /// In the course of a daypart.
    Daypart(DaypartId),
    /// At an instant, such as the start of a quarter of an hour.
    At(DateTime<Utc>),
    /// The till does not say.
    #[default]
    Unknown,
}

/// What became of units.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Outcome {
    /// They were made and sold.
    #[default]
    Sold,
    /// Called off before anything was made: used nothing, took nothing.
    VoidedBeforeMaking,
    /// Made, then paid back: used what it takes.
    RefundedAfterMaking,
    /// Made and given away.
    GivenAway,
    /// They were made for staff: food was used and nothing was taken.
    StaffMeal,
}

impl Outcome {
    /// Whether food was used.
    pub fn uses_food(self) -> bool {
        self != Self::VoidedBeforeMaking
    }
}

/// An order and how long it took.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct TillTicket {
    /// The till's id of it; sent again (closed by now, say) the later one counts.
    pub id: String,
    /// When it was placed.
    pub placed: DateTime<Utc>,
    /// When it was handed off; none while open, or never closed.
    #[serde(default)]
    pub handed_off: Option<DateTime<Utc>>,
    /// When it was promised for, if it was ordered ahead.
    #[serde(default)]
    pub promised: Option<DateTime<Utc>>,
    /// How it was ordered.
    #[serde(default)]
    pub channel: Option<ChannelId>,
}
