//! A span as numbers. Most spans are of one night and say again what its day says: a number is packed as
//! the difference from what it would then be, which is mostly nothing.

use chrono::{DateTime, Utc};

use super::TooLarge;
use super::fields::{samples, samples_numbers};
use crate::bytes::Unreadable;
use crate::calendar::BusinessDate;
use crate::money::Money;
use crate::quantity::Tallied;
use crate::tally::{Counted, Doubt, EndedSpan, ItemDay, ItemSpan};

/// What the date itself says of the item, and of its sales.
#[derive(Clone, Copy)]
pub(super) struct Today<'a> {
    pub(super) date: BusinessDate,
    pub(super) item: &'a ItemDay,
    pub(super) sales: Option<Money>,
}

/// States the numbers of a span, each with what it is when nothing is packed of it: of the date (`day`)
/// and of the numbers before it (`span`); once for this code, once for the database.
macro_rules! span {
    (|$day:ident, $span:ident| $($field:ident = $otherwise:expr, $sql:literal;)*) => {
        /// The numbers of a span, each with what it is when nothing is packed of it, in words of SQL:
        /// `day.` before a number of the item's date, `span.` before one of the span.
        pub const SPAN: &[(&str, &str)] = &[$((stringify!($field), $sql)),*];

        #[derive(Default)]
        struct Numbers { $($field: i64,)* }

        impl Numbers {
            fn packed(&self, $day: Today<'_>) -> [i64; SPAN.len()] {
                let $span = self;
                [$($span.$field.wrapping_sub($otherwise)),*]
            }

            #[inline]
            #[expect(unused_variables, reason = "many numbers rest on none before them")]
            fn unpacked(packed: [i64; SPAN.len()], $day: Today<'_>) -> Self {
                let mut found = Self::default();
                let [$($field),*] = packed;
                $(
                    let $span = &found;
                    found.$field = $field.wrapping_add($otherwise);
                )*
                found
            }

            fn all(&self) -> [i64; SPAN.len()] {
                [$(self.$field),*]
            }
        }
    };
}

span! { |day, span|
    opening = 0, "0";
    opening_sd = 0, "0";
    variance_cost = 0, "0";
    // Bits of what is known: the cost used, expected use, its cost, the variance's cost, sales, and when
    // it was restated.
    known = 31, "31";
    opened_back = 1, "1";
    nights = 1, "1";
    expected = day.item.expected.thousandths(), "day.expected";
    expected_cost = day.item.expected_cost.ten_thousandths(), "day.expected_cost";
    made_into = day.item.made_into.thousandths(), "day.made_into";
    made_into_cost = day.item.made_into_cost.ten_thousandths(), "day.made_into_cost";
    used_cost = span.expected_cost + span.made_into_cost + span.variance_cost,
        "span.expected_cost + span.made_into_cost + span.variance_cost";
    sales = day.sales.map_or(0, Money::ten_thousandths), "night_sales";
    received = day.item.received.thousandths(), "day.received";
    transferred_in = day.item.transferred_in.thousandths(), "day.transferred_in";
    transferred_out = day.item.transferred_out.thousandths(), "day.transferred_out";
    made = day.item.made.thousandths(), "day.made";
    wasted = (day.item.wasted - day.item.wasted_safety).thousandths(),
        "day.wasted - day.wasted_safety";
    wasted_cost = (day.item.wasted_cost - day.item.wasted_safety_cost).ten_thousandths(),
        "day.wasted_cost - day.wasted_safety_cost";
    wasted_safety = day.item.wasted_safety.thousandths(), "day.wasted_safety";
    wasted_safety_cost = day.item.wasted_safety_cost.ten_thousandths(), "day.wasted_safety_cost";
    yield_loss = day.item.yield_loss.thousandths(), "day.yield_loss";
    yield_loss_cost = day.item.yield_loss_cost.ten_thousandths(), "day.yield_loss_cost";
    closing = day.item.count.map_or(0, |count| count.closing.thousandths()), "day.closing";
    closing_sd = day.item.count.map_or(0, |count| count.sd.thousandths()), "day.closing_sd";
    used = span.opening + span.received + span.transferred_in + span.made - span.transferred_out
        - span.wasted_safety - span.closing,
        "span.opening + span.received + span.transferred_in + span.made - span.transferred_out \
         - span.wasted_safety - span.closing";
    samples = day.item.samples.count() as i64, "day.samples";
    sample_sum = day.item.samples.sum(), "day.sample_sum";
    sample_squares = day.item.samples.squares() as i64, "day.sample_squares";
    // A bit for each doubt, in the order of `Doubt::ALL`.
    doubts = 0, "0";
    owner_changed = 0, "0";
    // Microseconds since the first of January 1970, in UTC.
    restated_at = 0, "0";
}

const USED_COST: i64 = 1;
const EXPECTED: i64 = 2;
const EXPECTED_COST: i64 = 4;
const VARIANCE_COST: i64 = 8;
const SALES: i64 = 16;
const RESTATED: i64 = 32;

fn numbers(ended: &EndedSpan, today: Today<'_>) -> Result<Numbers, TooLarge> {
    let span = &ended.span;
    let bit = |known: bool, bit: i64| if known { bit } else { 0 };
    let amount = |amount: Option<Tallied>| amount.map_or(0, Tallied::thousandths);
    let money = |money: Option<Money>| money.map_or(0, Money::ten_thousandths);
    let [samples, sample_sum, sample_squares] = samples_numbers(&span.samples)?;
    let doubts = Doubt::ALL.iter().enumerate();
    Ok(Numbers {
        opening: span.opening.closing.thousandths(),
        opening_sd: span.opening.sd.thousandths(),
        variance_cost: money(span.variance_cost),
        known: bit(span.used_cost.is_some(), USED_COST)
            | bit(span.expected.is_some(), EXPECTED)
            | bit(span.expected_cost.is_some(), EXPECTED_COST)
            | bit(span.variance_cost.is_some(), VARIANCE_COST)
            | bit(span.sales.is_some(), SALES)
            | bit(ended.restated_at.is_some(), RESTATED),
        opened_back: span.opened_on.days_until(today.date),
        nights: i64::try_from(span.nights).map_err(|_| TooLarge)?,
        expected: amount(span.expected),
        expected_cost: money(span.expected_cost),
        made_into: span.made_into.thousandths(),
        made_into_cost: span.made_into_cost.ten_thousandths(),
        used_cost: money(span.used_cost),
        sales: money(span.sales),
        received: span.received.thousandths(),
        transferred_in: span.transferred_in.thousandths(),
        transferred_out: span.transferred_out.thousandths(),
        made: span.made.thousandths(),
        wasted: span.wasted.thousandths(),
        wasted_cost: span.wasted_cost.ten_thousandths(),
        wasted_safety: span.wasted_safety.thousandths(),
        wasted_safety_cost: span.wasted_safety_cost.ten_thousandths(),
        yield_loss: span.yield_loss.thousandths(),
        yield_loss_cost: span.yield_loss_cost.ten_thousandths(),
        closing: span.closing.closing.thousandths(),
        closing_sd: span.closing.sd.thousandths(),
        used: span.used.thousandths(),
        samples,
        sample_sum,
        sample_squares,
        doubts: doubts.map(|(n, doubt)| bit(span.doubts.contains(doubt), 1 << n)).sum(),
        owner_changed: span.owner_changed.into(),
        restated_at: ended.restated_at.map_or(0, |at| at.timestamp_micros()),
    })
}

/// A span as it is packed.
pub(super) fn pack(ended: &EndedSpan, today: Today<'_>) -> Result<[i64; SPAN.len()], TooLarge> {
    Ok(numbers(ended, today)?.packed(today))
}

/// A span as analysts are told it.
pub(super) fn list(ended: &EndedSpan, today: Today<'_>) -> Result<[i64; SPAN.len()], TooLarge> {
    Ok(numbers(ended, today)?.all())
}

/// A span of what was packed.
#[inline]
pub(super) fn unpack(packed: [i64; SPAN.len()], today: Today<'_>) -> Result<EndedSpan, Unreadable> {
    let numbers = Numbers::unpacked(packed, today);
    let knows = |bit: i64| numbers.known & bit != 0;
    let amount = Tallied::from_thousandths;
    let money = Money::from_ten_thousandths;
    let restated_at = match knows(RESTATED) {
        true => Some(
            DateTime::<Utc>::from_timestamp_micros(numbers.restated_at).ok_or(Unreadable::Field)?,
        ),
        false => None,
    };
    let doubts = match numbers.doubts {
        0 => std::collections::BTreeSet::new(),
        bits => {
            let all = Doubt::ALL.iter().enumerate();
            all.filter(|(n, _)| bits >> n & 1 == 1).map(|(_, doubt)| *doubt).collect()
        }
    };
    let span = ItemSpan {
        opened_on: today.date.plus_days(-numbers.opened_back),
        nights: numbers.nights.unsigned_abs(),
        opening: Counted { closing: amount(numbers.opening), sd: amount(numbers.opening_sd) },
        received: amount(numbers.received),
        transferred_in: amount(numbers.transferred_in),
        transferred_out: amount(numbers.transferred_out),
        made: amount(numbers.made),
        closing: Counted { closing: amount(numbers.closing), sd: amount(numbers.closing_sd) },
        used: amount(numbers.used),
        used_cost: knows(USED_COST).then(|| money(numbers.used_cost)),
        made_into: amount(numbers.made_into),
        made_into_cost: money(numbers.made_into_cost),
        expected: knows(EXPECTED).then(|| amount(numbers.expected)),
        expected_cost: knows(EXPECTED_COST).then(|| money(numbers.expected_cost)),
        variance_cost: knows(VARIANCE_COST).then(|| money(numbers.variance_cost)),
        wasted: amount(numbers.wasted),
        wasted_cost: money(numbers.wasted_cost),
        wasted_safety: amount(numbers.wasted_safety),
        wasted_safety_cost: money(numbers.wasted_safety_cost),
        yield_loss: amount(numbers.yield_loss),
        yield_loss_cost: money(numbers.yield_loss_cost),
        samples: samples([numbers.samples, numbers.sample_sum, numbers.sample_squares]),
        sales: knows(SALES).then(|| money(numbers.sales)),
        doubts,
        owner_changed: numbers.owner_changed != 0,
    };
    Ok(EndedSpan { span, restated_at })
}
