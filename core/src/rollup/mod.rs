//! Scopes and spans: what tallies add up to, and the measures made from it.
//!
//! Facts in, additive tallies in the middle, ratios out. A [`Sum`] merges in any order and
//! grouping, to the digit; [`Measures`] are made from it once, at the end, and do not add. Every
//! measure has its own matched numerator, denominator and count of nights: a span without expected
//! use is in neither side of a ratio to it, a night without sales in neither side of a ratio to
//! sales.
//!
//! Usage runs from one count of an item to its next. Such a span belongs to the date of its closing
//! count, whole, wherever it began: a weekly item counted on Sunday is in the week of that Sunday,
//! and on no other day of it. Waste, batches, sales and tickets belong to their own date.
//!
//! Quantities merge within one item; across items only money does. Over all items the cost of use
//! is what was used less what was made into others, so that nothing is in it twice.
//!
//! What cannot be right is no part of what compares: a span whose facts contradict each other is in
//! none of these sums and told apart, see [`DoubtSum`]. A night on which a store traded for much less
//! than its usual hours is in no ratio of waste to sales; its amounts and its tickets, which are timed
//! each by itself, stay.
//!
//! Count error is no sum: see [`CountEnds`].

mod compare;
mod ends;
mod gather;
mod headline;
mod measures;
mod nights;
mod nightset;
mod over_sales;
mod part;
mod rank;
mod ratio;
mod runs;
mod scope;
mod sum;
mod tallied;
#[cfg(test)]
mod tests;
mod week;

pub use compare::Against;
pub use ends::CountEnds;
pub use gather::{Gathered, Gathering, Plan, Row};
pub use headline::{Headline, Known};
pub use measures::{CostCauses, CostEstimate, ItemMeasures, Measures, MoneyMeasures, Rate};
pub use nights::{CountedDates, Nights};
pub use over_sales::{OverSales, RhythmPart};
pub use rank::{Better, Compared, Rank, ranks};
pub use ratio::RatioSum;
pub use scope::{Bucket, By, Level, Scope, ScopeError};
pub use sum::{
    AgainstSales, BatchSum, ComparedSum, Covered, DaypartSum, DoubtSum, Every, ItemSum, KeptSum,
    NightSum, Sum, UsedSum, ValuedSum, WasteKey, WasteLines, WasteSum,
};
pub use week::{PackedWeek, Week};
