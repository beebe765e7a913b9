//! The receipt of a night: what was understood, and what it means.

mod read;
mod report;

use std::collections::BTreeMap;

use chrono::{DateTime, Utc};
use parings_core::calendar::BusinessDate;
use parings_core::catalog::{Item, Settings};
use parings_core::checks::Check;
use parings_core::ids::{ItemId, StageId, StoreId};
use parings_core::money::{Money, UnitPrice};
use parings_core::night::{Count, CountLine};
use parings_core::quantity::Tallied;
use parings_core::stats::Grade;
use parings_core::tally::{Day, ItemDay, ItemSpan};
use parings_core::usage::{Causes, RecipeEffect, Samples};
use parings_core::yields::Yield;

use crate::app::night::revisions::Revision;
use crate::app::night::tallying::Ended;

pub use read::{known, make, read};
pub use report::of;

/// What a night means, as far as is known.
pub struct Receipt {
    /// The store whose night it is.
    pub store: StoreId,
    /// The business date of the night.
    pub date: BusinessDate,
    /// The network's settings on that date.
    pub settings: Settings,
    /// The reference data are those known at this moment.
    pub known_at: DateTime<Utc>,
    /// Of a receipt as it was known at a moment: the moment.
    pub as_known_at: Option<DateTime<Utc>>,
    /// The version of the rules that worked it out.
    pub rules: i16,
    /// The count as it stands, if there is one.
    pub count: Option<Taken>,
    /// The number of the last revision, whatever became of it.
    pub latest: Option<i32>,
    /// Revisions that wait: for answers, or for approval.
    pub waiting: Vec<Waiting>,
    /// Items of the count that are left out, and why.
    pub left_out: BTreeMap<ItemId, Vec<String>>,
    /// What was said of the count and asks nothing.
    pub said: Vec<Check>,
    /// Everything of the date, without spans.
    pub day: Day,
    /// Item by item, in order of their codes.
    pub items: Vec<ItemReport>,
    /// Batches that were weighed.
    pub batches: Vec<BatchReport>,
    /// Preparations whose inputs were weighed.
    pub preparations: Vec<PreparationReport>,
}

/// A count on record.
pub struct Taken {
    /// The number of its revision.
    pub revision: i32,
    /// When it was recorded.
    pub recorded_at: DateTime<Utc>,
    /// Why it was revised.
    pub reason: Option<String>,
    /// The count as typed.
    pub count: Count,
    /// Its lines, as understood.
    pub lines: Vec<(CountLine, Tallied)>,
}

/// A revision that waits.
pub struct Waiting {
    /// The revision as it was submitted.
    pub revision: Revision,
    /// When a held one is settled without an answer.
    pub settles_at: Option<DateTime<Utc>>,
}

impl Receipt {
    /// The ETag: it covers what people wrote, not what was derived.
    pub fn etag(&self) -> Option<String> {
        self.latest.map(etag)
    }
}

/// The ETag of a revision.
pub fn etag(revision: i32) -> String {
    format!("\"r{revision}\"")
}

/// What is known of an item's use.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Known {
    /// It was not counted.
    NotCounted,
    /// It was counted for the first time: there is nothing to compare with.
    Baseline,
    /// It was counted; expected use is pending until sales are known.
    Pending,
    /// It was counted, and its expected use is known.
    Compared,
}

/// An item of a night.
pub struct ItemReport {
    /// The code of the item.
    pub id: ItemId,
    /// What the catalogue of the date says of it.
    pub item: Item,
    /// Its standard price.
    pub price: Option<UnitPrice>,
    /// What is known of its use.
    pub known: Known,
    /// What happened on the date.
    pub day: ItemDay,
    /// Its use since the count before.
    pub span: Option<ItemSpan>,
    /// When another night's change last restated that.
    pub restated_at: Option<DateTime<Utc>>,
    /// The variance by cause, once it is known.
    pub causes: Option<Causes>,
    /// The portions weighed that it rests on, pooled over the last nights.
    pub samples: Samples,
}

impl ItemReport {
    /// What an amount of it costs.
    pub fn cost(&self, amount: Tallied) -> Option<Money> {
        self.price?.try_of(amount.base()).ok()
    }
}

/// A batch that was weighed, stage by stage.
pub struct BatchReport {
    /// The item that was processed.
    pub item: ItemId,
    /// The supplier's lot, where it was written down.
    pub lot: Option<String>,
    /// Stage, yield, standard, and how the one compares with the other.
    pub stages: Vec<(StageId, Yield, Yield, Grade)>,
}

/// A preparation whose inputs were weighed.
pub struct PreparationReport {
    /// The item made.
    pub item: ItemId,
    /// How much of it.
    pub made: Tallied,
    /// What other amounts than the recipe's came to; none when an input has no price, or cannot be
    /// told as a weight.
    pub effect: Option<RecipeEffect>,
}

/// What a receipt takes from nights before its own.
pub struct Since {
    /// The version of the rules that worked the night out.
    pub rules: i16,
    /// The spans that end with the night.
    pub spans: Ended,
    /// Portions weighed of each item over the last nights.
    pub samples: BTreeMap<ItemId, Samples>,
    /// Every revision of the night.
    pub revisions: Vec<Revision>,
}
