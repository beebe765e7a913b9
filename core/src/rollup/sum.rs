use std::collections::BTreeMap;

use super::CountEnds;
use crate::calendar::BusinessDate;
use crate::ids::{ItemId, ReasonId, StoreId};
use crate::money::Money;
use crate::quantity::Tallied;
use crate::tally::{Day, DaypartKey, DaypartTally, ItemDay, ItemSpan};
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
    /// What was used: every span.
    UsedSum {
        /// Used.
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
        /// Used.
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
        /// Used.
        used: Tallied,
        /// Its cost.
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

    /// Variance against sales: only spans whose variance has a cost and whose sales are known.
    /// Over several items a night's sales are in it once.
    AgainstSales {
        /// Cost of the variance.
        variance_cost: Money,
        /// Net sales of the same nights.
        sales: Money,
        /// Those nights.
        nights: u64,
    }

    /// Recorded waste, on the dates it was recorded for.
    WasteSum {
        /// Thrown away, without what was thrown away for safety.
        amount: Tallied,
        /// Its cost.
        cost: Money,
        /// Thrown away for safety; it never counts against a store.
        safety: Tallied,
        /// Its cost.
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
        /// Every span.
        used: UsedSum,
        /// Spans whose expected use is known.
        compared: ComparedSum,
        /// Those with a price.
        valued: ValuedSum,
        /// Those with sales.
        against_sales: AgainstSales,
        /// Recorded waste.
        waste: WasteSum,
        /// Batches.
        batches: BatchSum,
        /// The portions weighed that speak for it, which may be pooled over more nights.
        samples: Samples,
        /// Minutes it was out.
        stock_out_minutes: u64,
    }

    /// Sales and waste of nights, over all items in money.
    NightSum {
        /// Net sales of nights whose sales are known.
        sales: Money,
        /// Those nights.
        sales_nights: u64,
        /// Cost of waste in those same nights, safety discards apart.
        wasted_cost_with_sales: Money,
        /// Units of nights whose units are known.
        units: u64,
        /// Those nights.
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

    /// Recorded waste under one reason, in money over all items.
    ReasonSum {
        /// Its cost, when the reason was not one of safety.
        cost: Money,
        /// How many lines.
        lines: u64,
        /// Its cost, when it was one of safety.
        safety_cost: Money,
        /// How many lines.
        safety_lines: u64,
    }

    /// Everything of a scope and a span.
    Sum {
        /// By item.
        items: BTreeMap<ItemId, ItemSum>,
        /// By daypart and channel.
        dayparts: BTreeMap<DaypartKey, DaypartSum>,
        /// Sales and waste of nights.
        night: NightSum,
        /// Recorded waste by reason.
        reasons: BTreeMap<ReasonId, ReasonSum>,
        /// The variance of all items against sales. A night's sales are in it once, however many
        /// items were counted.
        against_sales: AgainstSales,
    }
}

impl ItemSum {
    /// An item's span, which closed on `date`.
    pub fn of_span(store: &StoreId, item: &ItemId, date: BusinessDate, span: &ItemSpan) -> Self {
        let mut sum = Self::default();
        sum.used.used = span.used;
        sum.used.made_into = span.made_into;
        sum.used.nights = span.nights;
        if let Some(used_cost) = span.used_cost {
            sum.used.used_cost = used_cost;
            sum.used.made_into_cost = span.made_into_cost;
            sum.used.cost_nights = span.nights;
        }
        let Some(expected) = span.expected else { return sum };
        sum.compared = ComparedSum {
            used: span.used,
            made_into: span.made_into,
            expected,
            wasted: span.wasted,
            yield_loss: span.yield_loss,
            ends: CountEnds::of_span(store, item, date, span),
            nights: span.nights,
        };
        let costs = span.used_cost.zip(span.expected_cost).zip(span.variance_cost);
        let Some(((used_cost, expected_cost), variance_cost)) = costs else { return sum };
        sum.valued = ValuedSum {
            used: span.used,
            used_cost,
            made_into_cost: span.made_into_cost,
            expected_cost,
            variance_cost,
            wasted_cost: span.wasted_cost,
            yield_loss_cost: span.yield_loss_cost,
            nights: span.nights,
        };
        if let Some(sales) = span.sales {
            sum.against_sales = AgainstSales { variance_cost, sales, nights: span.nights };
        }
        sum
    }

    /// What happened to an item on one date.
    pub fn of_day(day: &ItemDay) -> Self {
        Self {
            waste: WasteSum {
                amount: day.wasted - day.wasted_safety,
                cost: day.wasted_cost - day.wasted_safety_cost,
                safety: day.wasted_safety,
                safety_cost: day.wasted_safety_cost,
            },
            batches: BatchSum {
                out: day.batch_out,
                expected_out: day.batch_expected_out,
                nights: u64::from(!day.batch_expected_out.is_zero()),
            },
            samples: day.samples,
            stock_out_minutes: day.stock_out_minutes,
            ..Self::default()
        }
    }
}

impl NightSum {
    /// One night.
    pub fn of(day: &Day) -> Self {
        let night = &day.night;
        let timed = day.dayparts.values().any(|daypart| daypart.tickets.with_target > 0);
        let wasted_cost = night.wasted_cost - night.wasted_safety_cost;
        Self {
            sales: night.sales.unwrap_or_default(),
            sales_nights: u64::from(night.sales.is_some()),
            wasted_cost_with_sales: night.sales.map(|_| wasted_cost).unwrap_or_default(),
            units: night.units.unwrap_or_default(),
            units_nights: u64::from(night.units.is_some()),
            wasted_cost,
            wasted_safety_cost: night.wasted_safety_cost,
            nights: 1,
            ticket_nights: u64::from(timed),
        }
    }
}

impl DaypartSum {
    /// A daypart and channel of one night.
    pub fn of(tally: DaypartTally) -> Self {
        Self { ticket_nights: u64::from(tally.tickets.with_target > 0), tally }
    }
}

impl Sum {
    /// Orders, sales and ticket times of all dayparts and channels.
    pub fn all_dayparts(&self) -> DaypartTally {
        self.dayparts.values().fold(DaypartTally::default(), |all, one| all.merge(&one.tally))
    }
}
