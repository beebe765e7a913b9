//! What the facts of one store and business date add up to.
//!
//! [`day`] works through the facts of a date; [`span`] joins an item's dates from one count to the
//! next. Quantities are rounded once a store, night and item, to whole thousandths; from there on
//! whole numbers are added, so the order of merging cannot change a digit.

mod day;
mod records;
mod span;

pub use day::{DayFacts, TallyError, day};
pub use records::{
    Counted, Day, DaypartKey, DaypartTally, ItemDay, ItemSpan, NightTally, SalesSource, WasteLine,
};
pub use span::{Opening, SpanNight, span};

/// The version of these rules. A change that alters a figure raises it; tallies of the new version
/// are written beside the old.
pub const RULES: i16 = 1;
