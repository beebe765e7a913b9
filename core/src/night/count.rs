use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};

use super::Outcome;
use crate::catalog::Typed;
use crate::ids::{ChannelId, DaypartId, ItemId, PanId, PlaceId, ProductId, SizeId, StageId};
use crate::money::Money;

/// The closing count of a night: one document, revised as a whole.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Count {
    /// Whether every line of the sheet is answered. A blank is not a zero; zero is typed.
    pub complete: bool,
    /// Who counted; the submitter is known anyway.
    #[serde(default)]
    pub counted_by: Vec<String>,
    /// When the device says it was sent.
    #[serde(default)]
    pub device_time: Option<DateTime<Utc>>,
    /// When counting began, by the device.
    #[serde(default)]
    pub started_at: Option<DateTime<Utc>>,
    /// What stood where. Several lines for one item, place and stage add up.
    pub lines: Vec<CountLine>,
    /// Units sold, where no till feeds them.
    #[serde(default)]
    pub units_sold: Vec<UnitsSold>,
    /// Net sales, where no till feeds them.
    #[serde(default)]
    pub net_sales: Option<Money>,
}

/// What stood in a place.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct CountLine {
    /// The item that was counted.
    pub item: ItemId,
    /// The storage place in which it stood.
    pub place: PlaceId,
    /// The stage; none for as purchased.
    #[serde(default)]
    pub stage: Option<StageId>,
    /// How much, gross where it stands in a pan.
    pub quantity: Typed,
    /// The pan it was weighed in.
    #[serde(default)]
    pub pan: Option<PanId>,
    /// What is written on that very pan, where pans have labels.
    #[serde(default)]
    pub label: Option<String>,
    /// When it must be thrown away; unknown where nobody wrote it down.
    #[serde(default)]
    pub discard_at: Option<DateTime<Utc>>,
}

/// Units sold, as typed.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct UnitsSold {
    /// The product that was sold.
    pub product: ProductId,
    /// The size in which it was sold.
    pub size: SizeId,
    /// How many units of that size.
    pub units: u32,
    /// What became of them.
    #[serde(default)]
    pub outcome: Outcome,
    /// When, if anybody knows.
    #[serde(default)]
    pub daypart: Option<DaypartId>,
    /// How they were ordered.
    #[serde(default)]
    pub channel: Option<ChannelId>,
}
