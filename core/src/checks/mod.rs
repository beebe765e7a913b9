//! What is asked about a night before it is relied on.
//!
//! Only what a row itself proves impossible is refused; whoever is kept from closing at one in the
//! morning invents numbers. Everything else that looks wrong is put to the person who counted, with
//! the likely slip and both readings, or noted, or kept out of what compares stores. No number is
//! lost or mended in silence, and *counted again, it is right* is always an answer.
//!
//! The checks look at a night as it would stand with the count: its facts, what they add up to, the
//! spans that would end with it, and the spans before. They never say what a count should come to.

mod answer;
mod answers;
mod around;
mod check;
mod clock;
mod copies;
mod coverage;
mod expect;
mod given;
mod merge;
mod slips;
mod stock;
#[cfg(test)]
mod tests;
mod transfers;
mod triage;

use std::collections::BTreeSet;

pub use answer::{Answer, AnswerError, Correction};
pub use answers::{Proposal, unanswered, wider};
pub use around::around;
pub use check::{About, Check, CheckKind, Reading, Treatment};
pub use clock::{Stamp, clocks, locked, next_opening, stamp, trading};
pub use copies::{copies, rounding_habit};
pub use coverage::coverage;
pub use given::{Changed, Elsewhere, Given, ItemPast, PastUse, ReferenceChange, Sent};
pub use merge::{Merged, merge};
pub use slips::{as_read, slips};
pub use stock::stock;
pub use transfers::one_sided;
pub use triage::{Triage, triage};

/// Every check of a count that was submitted, in no order that means anything; [`triage`] puts them
/// in order. An item that is asked about for a slip is not asked about for use below zero as well:
/// the slip is the likelier cause.
pub fn night(given: &Given<'_>) -> Vec<Check> {
    let mut found = slips(given);
    let asked: BTreeSet<_> = found.iter().filter_map(|check| check.about.item()).cloned().collect();
    let slipped = |check: &Check| {
        check.kind == CheckKind::NegativeUse
            && check.about.item().is_some_and(|item| asked.contains(item))
    };
    found.extend(stock(given).into_iter().filter(|check| !slipped(check)));
    found.extend(copies(given));
    found.extend(clocks(given));
    found.extend(coverage(given));
    found.extend(around(given));
    found
}
