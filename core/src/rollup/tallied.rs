//! From one tally to a sum.

use super::{
    AgainstSales, BatchSum, ComparedSum, CountEnds, DaypartSum, DoubtSum, ItemSum, NightSum,
    RatioSum, ValuedSum, WasteSum,
};
use crate::calendar::BusinessDate;
use crate::ids::{ItemId, StoreId};
use crate::tally::{Day, DaypartTally, ItemDay, ItemSpan};

impl ItemSum {
    /// An item's span, which closed on `date`. One in doubt is only told apart: it is in no sum that
    /// is compared.
    pub fn of_span(store: &StoreId, item: &ItemId, date: BusinessDate, span: &ItemSpan) -> Self {
        let mut sum = Self::default();
        if !span.doubts.is_empty() {
            sum.doubtful = DoubtSum {
                spans: 1,
                used_cost: span.used_cost.unwrap_or_default(),
                by: span.doubts.iter().map(|doubt| (*doubt, 1)).collect(),
            };
            return sum;
        }
        sum.used.used = span.used;
        sum.used.made_into = span.made_into;
        sum.used.nights = span.nights;
        if let Some(used_cost) = span.used_cost {
            sum.used.used_cost = used_cost;
            sum.used.made_into_cost = span.made_into_cost;
            sum.used.cost_nights = span.nights;
            if let Some(sales) = span.sales {
                let cost = used_cost - span.made_into_cost;
                sum.food = AgainstSales { cost, sales, nights: span.nights };
            }
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
            sum.against_sales = AgainstSales { cost: variance_cost, sales, nights: span.nights };
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
            price_effect: day.price_effect,
            stock_out_minutes: day.stock_out_minutes,
            ..Self::default()
        }
    }
}

impl NightSum {
    /// One night. Most of what is thrown away is thrown away at close however long the store traded,
    /// so a short night is in no ratio of waste to sales.
    pub fn of(day: &Day) -> Self {
        let night = &day.night;
        let timed = day.dayparts.values().any(|daypart| daypart.tickets.with_target > 0);
        let wasted_cost = night.wasted_cost - night.wasted_safety_cost;
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
