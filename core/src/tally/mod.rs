//! What the facts of one store and business date add up to.
//!
//! [`day`] works through the facts of a date; [`span`] joins an item's dates from one count to the
//! next. [`contributions`] is what both a date's sums and the [`Figure`]s that people open rest on:
//! the rows behind a figure add up to it. Quantities are rounded once a store, night and item, to whole thousandths; from there on
//! whole numbers are added, so the order of merging cannot change a digit.

mod contribution;
mod day;
mod doubt;
mod ending;
mod figure;
mod misfit;
mod nights;
pub mod pack;
mod records;
mod rows;
mod span;
#[cfg(test)]
mod tests;
#[cfg(test)]
mod worked;

pub use contribution::{Contribution, Part, Row, contributions, orders, samples, takings};
pub(crate) use day::over_cap;
pub use day::{DayFacts, day};
pub use doubt::Doubt;
pub use ending::Ending;
pub use figure::{Figure, Reach, Sign};
pub use misfit::{Misfit, TallyError};
pub use nights::{Change, Closing, Nights, NoEnding, SpanEnd};
pub use records::{
    Counted, Day, DaypartKey, DaypartTally, EndedSpan, ItemDay, ItemSpan, Night, NightTally,
    SalesSource, WasteLine,
};
pub use span::{Opening, SpanNight, span};

/// The version of these rules. A change that alters a figure raises it. Nights of an older version
/// answer, and say so, until they were tallied anew.
pub const RULES: i16 = 2;
