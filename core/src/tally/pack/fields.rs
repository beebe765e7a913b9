//! The fields of a packed night: each is stated once, with the column that analysts find it under.

use super::TooLarge;
use crate::money::Money;
use crate::quantity::Tallied;
use crate::tally::{DaypartTally, ItemDay, NightTally};
use crate::usage::Samples;

/// What is one whole number in packed bytes.
pub(crate) trait Whole: Sized {
    /// The number, which must fit.
    fn whole(&self) -> Result<i64, TooLarge>;
    /// What the number stands for.
    fn of(number: i64) -> Self;
}

impl Whole for Tallied {
    fn whole(&self) -> Result<i64, TooLarge> {
        Ok(self.thousandths())
    }

    fn of(number: i64) -> Self {
        Self::from_thousandths(number)
    }
}

impl Whole for Money {
    fn whole(&self) -> Result<i64, TooLarge> {
        Ok(self.ten_thousandths())
    }

    fn of(number: i64) -> Self {
        Self::from_ten_thousandths(number)
    }
}

impl Whole for u64 {
    fn whole(&self) -> Result<i64, TooLarge> {
        i64::try_from(*self).map_err(|_| TooLarge)
    }

    fn of(number: i64) -> Self {
        number.unsigned_abs()
    }
}

impl Whole for bool {
    fn whole(&self) -> Result<i64, TooLarge> {
        Ok((*self).into())
    }

    fn of(number: i64) -> Self {
        number != 0
    }
}

/// States the fields of a record that are one number each. Often used ones stand first: the bits that
/// say which fields are not zero are then short.
macro_rules! fields {
    ($(#[$doc:meta])* $list:ident of $record:ident, $write:ident, $read:ident:
     $($field:ident)*) => {
        $(#[$doc])*
        pub const $list: &[&str] = &[$(stringify!($field)),*];

        pub(super) fn $write(record: &$record) -> Result<[i64; $list.len()], TooLarge> {
            Ok([$(record.$field.whole()?),*])
        }

        #[inline]
        pub(super) fn $read(numbers: [i64; $list.len()]) -> $record {
            let [$($field),*] = numbers;
            $record { $($field: Whole::of($field),)* ..$record::default() }
        }
    };
}

fields! {
    /// What happened to an item on the date; see [`ItemDay`].
    ITEM_DAY of ItemDay, item_day_numbers, item_day:
    expected expected_cost wasted wasted_cost received
    batch_in batch_out batch_expected_out yield_loss yield_loss_cost
    made_into made_into_cost made transferred_in transferred_out
    wasted_safety wasted_safety_cost price_effect stock_out_minutes over_cap
}

fields! {
    /// The night itself, but for what may be unknown and where sales come from; see [`NightTally`].
    NIGHT of NightTally, night_numbers, night_tally:
    counted items_due items_counted wasted_cost wasted_safety_cost
    partial items_left_out unmapped_units short
}

fields! {
    /// A daypart and channel, but for its tickets; see [`DaypartTally`].
    DAYPART of DaypartTally, daypart_numbers, daypart_tally:
    units sales stock_out_minutes
}

/// The tickets of a daypart and channel, but for their times; see [`crate::tickets::TicketTally`].
pub const TICKETS: &[&str] = &["orders", "with_target", "late", "never_closed", "lump_closed"];

/// The count of an item.
pub const COUNT: &[&str] = &["closing", "closing_sd"];

/// Portions weighed; see [`Samples`].
pub const SAMPLES: &[&str] = &["samples", "sample_sum", "sample_squares"];

/// A line of waste, after the places of its reason, stage and daypart.
pub const WASTE: &[&str] = &["safety", "amount", "cost"];

pub(super) fn tickets_numbers(daypart: &DaypartTally) -> Result<[i64; TICKETS.len()], TooLarge> {
    let tickets = &daypart.tickets;
    Ok([
        tickets.orders.whole()?,
        tickets.with_target.whole()?,
        tickets.timed_late.whole()?,
        tickets.never_closed.whole()?,
        tickets.lump_closed.whole()?,
    ])
}

pub(crate) fn samples_numbers(samples: &Samples) -> Result<[i64; SAMPLES.len()], TooLarge> {
    let squares = i64::try_from(samples.squares()).map_err(|_| TooLarge)?;
    Ok([samples.count().whole()?, samples.sum(), squares])
}

pub(crate) fn samples([count, sum, squares]: [i64; SAMPLES.len()]) -> Samples {
    Samples::from_parts(count.unsigned_abs(), sum, squares.into())
}
