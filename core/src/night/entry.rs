use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};

use crate::catalog::{Input, Typed};
use crate::ids::{
    DaypartId, EntryId, ItemId, PanId, ProductId, ReasonId, SizeId, StageId, StoreId,
};
use crate::money::Money;

/// Something that somebody recorded during the day.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Entry {
    /// The client's own id of it.
    pub id: EntryId,
    /// What was recorded.
    pub body: EntryBody,
}

/// What an entry says.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(tag = "kind", rename_all = "snake_case")]
pub enum EntryBody {
    /// Food that was thrown away.
    Waste {
        /// The item that was thrown away.
        item: ItemId,
        /// At which stage; none for as purchased.
        #[serde(default)]
        stage: Option<StageId>,
        /// The reason it was thrown away for.
        reason: ReasonId,
        /// How much, with the pan where it was weighed in one.
        quantity: Typed,
        /// The pan it was weighed in.
        #[serde(default)]
        pan: Option<PanId>,
        /// When, if anybody knows.
        #[serde(default)]
        daypart: Option<DaypartId>,
    },
    /// Came from a supplier.
    Delivery {
        /// The item that was delivered.
        item: ItemId,
        /// How much came, as it was typed.
        quantity: Typed,
        /// The lot as the supplier names it; none where nobody wrote it down.
        #[serde(default)]
        lot: Option<String>,
        /// What was paid for it in all, where it is known.
        #[serde(default)]
        paid: Option<Money>,
    },
    /// Came from another store.
    TransferIn {
        /// The item that came.
        item: ItemId,
        /// At which stage; none for as purchased.
        #[serde(default)]
        stage: Option<StageId>,
        /// How much came, at that stage.
        quantity: Typed,
        /// The store it came from.
        from: StoreId,
    },
    /// Went to another store.
    TransferOut {
        /// The item that went.
        item: ItemId,
        /// At which stage; none for as purchased.
        #[serde(default)]
        stage: Option<StageId>,
        /// How much went, at that stage.
        quantity: Typed,
        /// The store it went to.
        to: StoreId,
    },
    /// Taken through stages, and weighed.
    Batch {
        /// The item that was worked on.
        item: ItemId,
        /// The stage it started from; none for as purchased.
        #[serde(default)]
        from: Option<StageId>,
        /// What went in, at the stage it started from.
        put_in: Typed,
        /// What came out of each stage that was weighed, in order of work.
        steps: Vec<Step>,
        /// The lot as the supplier names it; none where nobody wrote it down.
        #[serde(default)]
        lot: Option<String>,
        /// How many minutes people worked on it; none where nobody wrote it down.
        #[serde(default)]
        labour_minutes: Option<u32>,
        /// When it must be thrown away; unknown where nobody wrote it down. A later entry never moves
        /// it. Left out of the document while unknown, so that what was sent before there was such a
        /// member is still the same when it is sent again.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        discard_at: Option<DateTime<Utc>>,
    },
    /// An item prepared from others.
    Preparation {
        /// The item that was made.
        item: ItemId,
        /// How much of it.
        made: Typed,
        /// What went in, where it was weighed.
        #[serde(default)]
        inputs: Vec<Input>,
        /// How many minutes people worked on it; none where nobody wrote it down.
        #[serde(default)]
        labour_minutes: Option<u32>,
        /// When it must be thrown away; unknown where nobody wrote it down.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        discard_at: Option<DateTime<Utc>>,
    },
    /// An item ran out, so that what is made of it could not be sold.
    StockOut {
        /// The item that ran out.
        item: ItemId,
        /// From which instant on there was none of it.
        from: DateTime<Utc>,
        /// To when; none for the rest of the day.
        #[serde(default)]
        to: Option<DateTime<Utc>>,
    },
    /// Portions weighed as they were served, for one line of a recipe.
    Sample {
        /// The product whose portions were weighed.
        product: ProductId,
        /// The size of the product.
        size: SizeId,
        /// The item of the recipe that was weighed.
        item: ItemId,
        /// The weights, at the stage of the recipe line.
        weights: Vec<Typed>,
    },
}

/// What came out of a stage.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Step {
    /// The stage that it came out of.
    pub stage: StageId,
    /// What came out of it.
    pub out: Typed,
}

impl EntryBody {
    /// The kind's word, as in the API and the database.
    pub fn kind(&self) -> &'static str {
        match self {
            Self::Waste { .. } => "waste",
            Self::Delivery { .. } => "delivery",
            Self::TransferIn { .. } => "transfer_in",
            Self::TransferOut { .. } => "transfer_out",
            Self::Batch { .. } => "batch",
            Self::Preparation { .. } => "preparation",
            Self::StockOut { .. } => "stock_out",
            Self::Sample { .. } => "sample",
        }
    }

    /// When what it brought into stock must be thrown away, where somebody wrote that down.
    pub fn discard_at(&self) -> Option<DateTime<Utc>> {
        match self {
            Self::Batch { discard_at, .. } | Self::Preparation { discard_at, .. } => *discard_at,
            _ => None,
        }
    }

    /// The item it is about.
    pub fn item(&self) -> &ItemId {
        match self {
            Self::Waste { item, .. }
            | Self::Delivery { item, .. }
            | Self::TransferIn { item, .. }
            | Self::TransferOut { item, .. }
            | Self::Batch { item, .. }
            | Self::Preparation { item, .. }
            | Self::StockOut { item, .. }
            | Self::Sample { item, .. } => item,
        }
    }
}
