//! What is asked about a night before it is relied on.
//!
//! Only what a row itself proves impossible is refused; whoever is kept from closing at one in the
//! morning invents numbers. Everything else that looks wrong is put to the person who counted, with
//! the likely slip and both readings, or noted, or kept out of what compares stores. No number is
//! lost or mended in silence, and *counted again, it is right* is always an answer.
//!
//! The checks look at a night as it would stand with the count: its facts, what they add up to, the
//! spans that would end with it, and the spans before. They never say what a count should come to.

use std::collections::BTreeSet;

mod check;
mod expect;
mod given;
mod slips;
mod triage;

pub use check::{About, Check, Kind, Reading, Treatment};
pub use given::{Change, Changed, Elsewhere, Given, ItemPast, Sent};
pub use slips::{as_read, slips};
pub use triage::{Triage, triage};

/// Every check of a count that was submitted, in no order that means anything; [`triage`] puts them
/// in order.
pub fn night(given: &Given<'_>) -> Vec<Check> {
    slips(given)
}

/// The checks that were not answered before, by their ids: nobody is asked the same thing twice.
///
/// ```
/// use std::collections::BTreeSet;
/// use parings_core::checks::{About, Check, Kind, unanswered};
/// let ask = |kind| Check::new(kind, About::Night, "?");
/// let answered = BTreeSet::from([ask(Kind::OldDate).id()]);
/// let left = unanswered(vec![ask(Kind::OldDate), ask(Kind::CopiedCount)], &answered);
/// assert_eq!(left[0].kind, Kind::CopiedCount);
/// assert_eq!(left.len(), 1);
/// ```
pub fn unanswered(checks: Vec<Check>, answered: &BTreeSet<String>) -> Vec<Check> {
    let asks = |check: &Check| check.treatment == Treatment::Confirm;
    checks.into_iter().filter(|check| !(asks(check) && answered.contains(&check.id()))).collect()
}
