use super::doubt::doubts;
use super::{Counted, ItemDay, ItemSpan, SalesSource};
use crate::calendar::BusinessDate;
use crate::catalog::Limits;
use crate::money::{Money, UnitPrice};
use crate::usage::Movement;

/// The count a span starts from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Opening {
    /// The business date that was counted at the end of.
    pub on: BusinessDate,
    /// What stood there.
    pub count: Counted,
}

/// A night inside a span.
#[derive(Debug, Clone, Copy)]
pub struct SpanNight<'a> {
    /// Whether the store was open. A closed night needs no sales; its entries still move stock.
    pub open: bool,
    /// Where its sales come from.
    pub sales_source: SalesSource,
    /// Its net sales.
    pub sales: Option<Money>,
    /// Whether the store traded for much less than its usual hours.
    pub short: bool,
    /// What happened to the item.
    pub item: Option<&'a ItemDay>,
}

/// Joins an item's nights from one count to the next: `nights` are those after `opening` up to and
/// including the night of `closing`. Expected use stays pending while sales of an open night are
/// unknown. `limits` say what is doubted. The variance is valued at the price of the closing date, expected use at each night's.
///
/// ```
/// use parings_core::calendar::BusinessDate;
/// use parings_core::catalog::Limits;
/// use parings_core::quantity::Tallied;
/// use parings_core::tally::{Counted, ItemDay, Opening, SalesSource, SpanNight, span};
/// let kg = |kg: i64| Tallied::from_thousandths(kg * 1_000_000);
/// let counted = |closing| Counted { closing: kg(closing), sd: kg(2) };
/// let monday = Opening {
///     on: BusinessDate::new(2026, 3, 2).unwrap(),
///     count: counted(40),
/// };
/// // Nobody counted on Tuesday; Wednesday's count closes both nights.
/// let tuesday = ItemDay { received: kg(30), expected: kg(20), ..ItemDay::default() };
/// let wednesday = ItemDay { expected: kg(25), ..ItemDay::default() };
/// let night = |item| SpanNight {
///     open: true, sales_source: SalesSource::Feed, sales: None, short: false, item,
/// };
/// let nights = [night(Some(&tuesday)), night(Some(&wednesday))];
/// let both = span(monday, counted(22), &nights, None, &Limits::default());
/// assert_eq!((both.nights, both.used), (2, kg(48)));
/// assert_eq!(both.variance(), Some(kg(3)));
/// ```
pub fn span(
    opening: Opening,
    closing: Counted,
    nights: &[SpanNight<'_>],
    price: Option<UnitPrice>,
    limits: &Limits,
) -> ItemSpan {
    let mut sum = ItemDay::default();
    for item in nights.iter().filter_map(|night| night.item) {
        sum.received += item.received;
        sum.transferred_in += item.transferred_in;
        sum.transferred_out += item.transferred_out;
        sum.made += item.made;
        sum.made_into += item.made_into;
        sum.made_into_cost += item.made_into_cost;
        sum.expected += item.expected;
        sum.expected_cost += item.expected_cost;
        sum.wasted += item.wasted;
        sum.wasted_cost += item.wasted_cost;
        sum.wasted_safety += item.wasted_safety;
        sum.wasted_safety_cost += item.wasted_safety_cost;
        sum.yield_loss += item.yield_loss;
        sum.yield_loss_cost += item.yield_loss_cost;
        sum.samples = sum.samples.merge(item.samples);
    }
    let moved = Movement {
        opening: opening.count.closing,
        received: sum.received,
        transferred_in: sum.transferred_in,
        transferred_out: sum.transferred_out,
        made: sum.made,
        discarded: sum.wasted_safety,
        closing: closing.closing,
    };
    let used = moved.used();
    let open: u64 = nights.iter().map(|night| u64::from(night.open)).sum();
    let short = nights.iter().map(|night| u64::from(night.open && night.short)).sum();
    let days = nights.iter().filter_map(|night| night.item);
    let errors = [opening.count.sd, closing.sd];
    let doubts = doubts(&moved, sum.wasted, errors, days, [short, open], limits);
    let known = |night: &SpanNight<'_>| !night.open || night.sales_source != SalesSource::None;
    let expected = nights.iter().all(known).then_some(sum.expected);
    let variance_cost = expected.and_then(|expected| {
        let variance = used - sum.made_into - expected;
        price?.try_of(variance.base()).ok()
    });
    let pending_cost = || price?.try_of(used.base()).ok();
    ItemSpan {
        opened_on: opening.on,
        nights: open,
        opening: opening.count,
        received: sum.received,
        transferred_in: sum.transferred_in,
        transferred_out: sum.transferred_out,
        made: sum.made,
        closing,
        used,
        used_cost: match variance_cost {
            Some(variance) => Some(sum.expected_cost + sum.made_into_cost + variance),
            None => pending_cost(),
        },
        made_into: sum.made_into,
        made_into_cost: sum.made_into_cost,
        expected,
        expected_cost: expected.map(|_| sum.expected_cost),
        variance_cost,
        wasted: sum.wasted - sum.wasted_safety,
        wasted_cost: sum.wasted_cost - sum.wasted_safety_cost,
        wasted_safety: sum.wasted_safety,
        wasted_safety_cost: sum.wasted_safety_cost,
        yield_loss: sum.yield_loss,
        yield_loss_cost: sum.yield_loss_cost,
        samples: sum.samples,
        sales: nights
            .iter()
            .map(|night| if night.open { night.sales } else { night.sales.or(Some(Money::ZERO)) })
            .sum(),
        owner_changed: false,
        doubts,
    }
}

#[cfg(test)]
mod tests;
