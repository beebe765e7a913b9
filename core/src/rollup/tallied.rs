//! From one tally to a sum.

use super::{AgainstSales, CountEnds, DaypartSum, DoubtSum, ItemSum, NightSum, RatioSum, WasteSum};
use crate::calendar::BusinessDate;
use crate::ids::{ItemId, StoreId};
use crate::money::Money;
use crate::tally::{Day, DaypartTally, EndedSpan, ItemDay, ItemSpan, NightTally};

impl ItemSum {
    /// An item's span, which closed on `date`. One in doubt is only told apart: it is in no sum that
    /// is compared.
    pub fn of_span(store: &StoreId, item: &ItemId, date: BusinessDate, span: &ItemSpan) -> Self {
        let mut sum = Self::default();
        sum.add_span(span);
        let held = [&mut sum.food, &mut sum.against_sales].into_iter().zip(against_sales(span));
        held.filter(|(_, known)| *known).for_each(|(held, _)| held.nights = span.nights);
        if is_compared(span) {
            sum.compared.ends = CountEnds::of_span(store, item, date, span);
        }
        sum
    }

    /// Adds everything of a span but how far its counts are off, which is known of whole runs alone, and
    /// how many of its nights were asked for.
    fn add_span(&mut self, span: &ItemSpan) {
        self.owner_changed += u64::from(span.owner_changed);
        if !span.doubts.is_empty() {
            self.doubtful.add(&DoubtSum {
                spans: 1,
                used_cost: span.used_cost.unwrap_or_default(),
                by: span.doubts.iter().map(|doubt| (*doubt, 1)).collect(),
            });
            return;
        }
        let used = &mut self.used;
        used.used += span.used;
        used.made_into += span.made_into;
        used.nights += span.nights;
        if let Some(used_cost) = span.used_cost {
            used.used_cost += used_cost;
            used.made_into_cost += span.made_into_cost;
            used.cost_nights += span.nights;
            self.food.hold(used_cost - span.made_into_cost, span.sales);
        }
        let Some(expected) = span.expected else { return };
        let compared = &mut self.compared;
        compared.used += span.used;
        compared.made_into += span.made_into;
        compared.expected += expected;
        compared.wasted += span.wasted;
        compared.yield_loss += span.yield_loss;
        compared.nights += span.nights;
        let costs = span.used_cost.zip(span.expected_cost).zip(span.variance_cost);
        let Some(((used_cost, expected_cost), variance_cost)) = costs else { return };
        let valued = &mut self.valued;
        valued.used += span.used;
        valued.used_cost += used_cost;
        valued.made_into_cost += span.made_into_cost;
        valued.expected_cost += expected_cost;
        valued.variance_cost += variance_cost;
        valued.wasted_cost += span.wasted_cost;
        valued.yield_loss_cost += span.yield_loss_cost;
        valued.nights += span.nights;
        self.against_sales.hold(variance_cost, span.sales);
    }

    /// The same of one that ended, which may have been restated.
    pub(super) fn add_ended(&mut self, ended: &EndedSpan) {
        self.restated += u64::from(ended.restated_at.is_some());
        self.add_span(&ended.span);
    }

    /// What happened to an item on one date.
    pub fn of_day(day: &ItemDay) -> Self {
        let mut sum = Self { samples: day.samples, ..Self::default() };
        sum.add_day(day);
        sum
    }

    /// Adds what happened on one date, but for portions weighed, which may speak for other nights too.
    pub(super) fn add_day(&mut self, day: &ItemDay) {
        self.days += 1;
        let WasteSum { amount, cost, safety, safety_cost } = &mut self.waste;
        *amount += day.wasted - day.wasted_safety;
        *cost += day.wasted_cost - day.wasted_safety_cost;
        *safety += day.wasted_safety;
        *safety_cost += day.wasted_safety_cost;
        self.batches.out += day.batch_out;
        self.batches.expected_out += day.batch_expected_out;
        self.batches.nights += u64::from(!day.batch_expected_out.is_zero());
        self.price_effect += day.price_effect;
        self.stock_out_minutes += day.stock_out_minutes;
    }

    /// Adds a night on which the item is kept.
    pub(super) fn add_kept(&mut self, sales: Option<Money>) {
        self.kept.nights += 1;
        if let Some(sales) = sales {
            self.kept.sales += sales;
            self.kept.sales_nights += 1;
        }
    }
}

impl AgainstSales {
    fn hold(&mut self, cost: Money, sales: Option<Money>) {
        if let Some(sales) = sales {
            self.cost += cost;
            self.sales += sales;
        }
    }
}

/// Which costs of a span are held against sales: of its use, of its variance.
pub(super) fn against_sales(span: &ItemSpan) -> [bool; 2] {
    let known = span.doubts.is_empty() && span.sales.is_some() && span.used_cost.is_some();
    let costs = span.expected_cost.is_some() && span.variance_cost.is_some();
    [known, known && span.expected.is_some() && costs]
}

/// Whether a span is in what is compared: it has expected use and no doubt.
pub(super) fn is_compared(span: &ItemSpan) -> bool {
    span.doubts.is_empty() && span.expected.is_some()
}

impl NightSum {
    /// A night of one store.
    pub fn of(day: &Day) -> Self {
        let timed = day.dayparts.values().any(|daypart| daypart.tickets.with_target > 0);
        let wasted = (day.night.wasted_cost, day.night.wasted_safety_cost);
        Self::of_night(&day.night, wasted, timed)
    }

    /// One night, with the cost of what was thrown away in all and for safety, and whether any ticket
    /// with a target was timed. Most of what is thrown away is thrown away at close however long the
    /// store traded, so a short night is in no ratio of waste to sales.
    pub(super) fn of_night(
        night: &NightTally,
        (wasted, wasted_safety_cost): (Money, Money),
        timed: bool,
    ) -> Self {
        let wasted_cost = wasted - wasted_safety_cost;
        Self {
            sales: night.sales.unwrap_or_default(),
            sales_nights: u64::from(night.sales.is_some()),
            waste: match night.sales {
                Some(sales) if !night.short => RatioSum::of_money(wasted_cost, sales),
                _ => RatioSum::default(),
            },
            units: night.units.unwrap_or_default(),
            units_nights: u64::from(night.units.is_some()),
            wasted_cost,
            wasted_safety_cost,
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

#[cfg(test)]
mod tests;
