use std::collections::BTreeMap;

use super::{CountEnds, RatioSum};
use crate::catalog::Rhythm;
use crate::ids::{DaypartId, ItemId, ReasonId, StageId};
use crate::money::Money;
use crate::quantity::Tallied;
use crate::tally::{DaypartKey, DaypartTally, Doubt};
use crate::usage::Samples;

/// What can be put together in any order and grouping, to the digit.
trait Together {
    fn together(&mut self, other: &Self);
}

impl Together for u64 {
    fn together(&mut self, other: &Self) {
        *self += other;
    }
}

impl Together for Money {
    fn together(&mut self, other: &Self) {
        *self += *other;
    }
}

impl Together for Tallied {
    fn together(&mut self, other: &Self) {
        *self += *other;
    }
}

impl Together for Samples {
    fn together(&mut self, other: &Self) {
        *self = self.merge(*other);
    }
}

impl Together for CountEnds {
    fn together(&mut self, other: &Self) {
        *self = std::mem::take(self).merge(other);
    }
}

impl Together for RatioSum {
    fn together(&mut self, other: &Self) {
        *self = self.merge(other);
    }
}

impl Together for DaypartTally {
    fn together(&mut self, other: &Self) {
        *self = std::mem::take(self).merge(other);
    }
}

impl<K: Ord + Clone, V: Together + Default> Together for BTreeMap<K, V> {
    fn together(&mut self, other: &Self) {
        for (key, value) in other {
            self.entry(key.clone()).or_default().together(value);
        }
    }
}

/// Under what waste was recorded.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct WasteKey {
    /// The reason it was thrown away for.
    pub reason: ReasonId,
    /// Whether for safety, by the reason's meaning on the date: then it counts against nobody.
    pub safety: bool,
    /// At which stage; none for as purchased.
    pub stage: Option<StageId>,
    /// When; none if nobody knows.
    pub daypart: Option<DaypartId>,
}

/// How often an item is counted.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Every {
    /// Every open night.
    Night,
    /// Once a week.
    Week,
    /// At the end of each of the network's periods.
    Period,
    /// In no rhythm that is known.
    Other,
}

impl Every {
    /// Every rhythm, the shortest first and what is not known last.
    pub const ALL: [Self; 4] = [Self::Night, Self::Week, Self::Period, Self::Other];

    /// Its word in the API.
    pub fn word(self) -> &'static str {
        match self {
            Self::Night => "night",
            Self::Week => "week",
            Self::Period => "period",
            Self::Other => "other",
        }
    }
}

impl From<Rhythm> for Every {
    fn from(rhythm: Rhythm) -> Self {
        match rhythm {
            Rhythm::Night => Self::Night,
            Rhythm::Week(_) => Self::Week,
            Rhythm::Period => Self::Period,
            Rhythm::Never => Self::Other,
        }
    }
}

macro_rules! sums {
    ($($(#[$doc:meta])* $name:ident { $($(#[$field_doc:meta])* $field:ident: $type:ty,)* })*) => {$(
        $(#[$doc])*
        #[derive(Debug, Clone, Default, PartialEq, Eq)]
        pub struct $name { $($(#[$field_doc])* pub $field: $type,)* }

        impl Together for $name {
            fn together(&mut self, other: &Self) {
                $(self.$field.together(&other.$field);)*
            }
        }

        impl $name {
            /// Adds another, as [`Self::merge`] does.
            pub fn add(&mut self, other: &Self) {
                self.together(other);
            }

            /// This and another together: associative and commutative, to the digit, with the
            /// default as identity.
            #[must_use]
            pub fn merge(mut self, other: &Self) -> Self {
                self.together(other);
                self
            }
        }
    )*};
}

sums! {
    /// What was used: every span but those in doubt.
    UsedSum {
        /// What was used, as [`crate::tally::Figure::Used`] says.
        used: Tallied,
        /// What preparing other items should have taken.
        made_into: Tallied,
        /// Open nights of the spans.
        nights: u64,
        /// Cost of what was used in spans that have a price.
        used_cost: Money,
        /// Cost of what preparing others should have taken, in the same spans.
        made_into_cost: Money,
        /// Open nights of those.
        cost_nights: u64,
    }

    /// Used against expected: only spans whose expected use is known.
    ComparedSum {
        /// What was used in those spans.
        used: Tallied,
        /// What preparing other items should have taken.
        made_into: Tallied,
        /// What sales should have used.
        expected: Tallied,
        /// Thrown away, safety discards apart: they are not used.
        wasted: Tallied,
        /// What batches lost beyond the standard.
        yield_loss: Tallied,
        /// How far counts are off.
        ends: CountEnds,
        /// Open nights of the spans.
        nights: u64,
    }

    /// The same in money: only those of the compared spans that have a price.
    ValuedSum {
        /// What was used in those spans.
        used: Tallied,
        /// Cost of what was used.
        used_cost: Money,
        /// Cost of what preparing other items should have taken.
        made_into_cost: Money,
        /// Cost of what sales should have used.
        expected_cost: Money,
        /// Cost of the variance.
        variance_cost: Money,
        /// Cost of what was thrown away, safety discards apart.
        wasted_cost: Money,
        /// Cost of what batches lost beyond the standard.
        yield_loss_cost: Money,
        /// Open nights of the spans.
        nights: u64,
    }

    /// A cost of an item against sales: only of spans that have the cost and whose sales are known.
    AgainstSales {
        /// What use or the variance cost in those spans.
        cost: Money,
        /// Net sales of the nights of those spans.
        sales: Money,
        /// Of those nights, the open ones that were asked for: a span may begin before them.
        nights: u64,
    }

    /// Nights of stores that were asked for and on which an item is kept.
    KeptSum {
        /// Nights of stores on which it is kept.
        nights: u64,
        /// Net sales of those whose sales are known.
        sales: Money,
        /// How many those are.
        sales_nights: u64,
    }

    /// Nights of stores that were asked for, were open, and are covered by spans with a cost and sales:
    /// each once, however many items were counted.
    Covered {
        /// By spans whose use has a cost.
        food: u64,
        /// By spans whose variance has one.
        variance: u64,
    }

    /// Spans that are in none of the other sums, because their facts cannot be right.
    DoubtSum {
        /// Spans in doubt.
        spans: u64,
        /// Cost of what they say was used, where they have a price.
        used_cost: Money,
        /// How many have each doubt; one may have several.
        by: BTreeMap<Doubt, u64>,
    }

    /// Recorded waste, on the dates it was recorded for.
    WasteSum {
        /// Thrown away, without what was thrown away for safety.
        amount: Tallied,
        /// Cost of what was thrown away, safety discards apart.
        cost: Money,
        /// Thrown away for safety; it never counts against a store.
        safety: Tallied,
        /// Cost of what was thrown away for safety.
        safety_cost: Money,
    }

    /// Batches, on the dates they were made.
    BatchSum {
        /// Weighed out, at the stages they ended with.
        out: Tallied,
        /// What should have come out.
        expected_out: Tallied,
        /// Nights with batches.
        nights: u64,
    }

    /// All of an item. Its spans belong to the date of their closing count; waste, batches and
    /// stock-outs to their own.
    ItemSum {
        /// Every span but those in doubt.
        used: UsedSum,
        /// Spans whose expected use is known.
        compared: ComparedSum,
        /// Those with a price.
        valued: ValuedSum,
        /// Variance of those with sales.
        against_sales: AgainstSales,
        /// Cost of use of spans with a price and sales.
        food: AgainstSales,
        /// Spans in doubt.
        doubtful: DoubtSum,
        /// Spans that said something else before a late fact, another night's change or a
        /// restatement.
        restated: u64,
        /// Spans within which a store changed hands: their sales are told to nobody, and they are in no
        /// ratio to sales.
        owner_changed: u64,
        /// The nights on which it is kept.
        kept: KeptSum,
        /// Nights on which anything was recorded of it.
        days: u64,
        /// What was recorded as thrown away, on each date.
        waste: WasteSum,
        /// What came out of weighed batches, and what should have.
        batches: BatchSum,
        /// The portions weighed that speak for it, which may be pooled over more nights.
        samples: Samples,
        /// What deliveries cost beyond the standard price, where it is known what was paid.
        price_effect: Money,
        /// Minutes it was out.
        stock_out_minutes: u64,
    }

    /// Sales and waste of nights, over all items in money.
    NightSum {
        /// Net sales of nights whose sales are known.
        sales: Money,
        /// How many nights those are.
        sales_nights: u64,
        /// Waste against sales: of those nights, the ones that were not short.
        waste: RatioSum,
        /// Units of nights whose units are known.
        units: u64,
        /// How many nights those are.
        units_nights: u64,
        /// Cost of waste in all nights, safety discards apart.
        wasted_cost: Money,
        /// Cost of safety discards in all nights.
        wasted_safety_cost: Money,
        /// Nights with any facts.
        nights: u64,
        /// Nights with timed tickets that had a target.
        ticket_nights: u64,
    }

    /// Orders, sales and ticket times of a daypart and channel.
    DaypartSum {
        /// What its nights add up to.
        tally: DaypartTally,
        /// Nights with timed tickets that had a target.
        ticket_nights: u64,
    }

    /// Recorded waste of one kind.
    WasteLines {
        /// How much; over several items it is no amount of anything.
        amount: Tallied,
        /// Cost of all of it.
        cost: Money,
        /// How many lines.
        lines: u64,
    }

    /// Everything of a scope and a span.
    Sum {
        /// Use, waste and batches of each item that anything is known of.
        items: BTreeMap<ItemId, ItemSum>,
        /// By daypart and channel.
        dayparts: BTreeMap<DaypartKey, DaypartSum>,
        /// Sales and waste of nights.
        night: NightSum,
        /// Recorded waste by what it was.
        waste: BTreeMap<WasteKey, WasteLines>,
        /// Nights covered by spans.
        covered: Covered,
        /// The same by how often their items are counted.
        rhythms: BTreeMap<Every, Covered>,
    }
}

impl ItemSum {
    /// Whether nothing is known of the item but that it is kept.
    pub fn is_only_kept(&self) -> bool {
        *self == Self { kept: self.kept.clone(), ..Self::default() }
    }
}

impl Sum {
    /// Orders, sales and ticket times of all dayparts and channels.
    pub fn all_dayparts(&self) -> DaypartTally {
        self.dayparts.values().fold(DaypartTally::default(), |all, one| all.merge(&one.tally))
    }

    /// Restated spans of all items.
    pub fn restated(&self) -> u64 {
        self.items.values().map(|item| item.restated).sum()
    }

    /// Spans of all items within which a store changed hands.
    pub fn owner_changed(&self) -> u64 {
        self.items.values().map(|item| item.owner_changed).sum()
    }

    /// Spans in doubt of all items.
    pub fn doubtful(&self) -> DoubtSum {
        self.items.values().fold(DoubtSum::default(), |all, item| all.merge(&item.doubtful))
    }
}
