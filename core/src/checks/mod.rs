//! What is asked about a night before it is relied on.
//!
//! Only what a row itself proves impossible is refused; whoever is kept from closing at one in the
//! morning invents numbers. Everything else that looks wrong is put to the person who counted, with
//! the likely slip and both readings, or noted, or kept out of what compares stores. No number is
//! lost or mended in silence, and *counted again, it is right* is always an answer.
//!
//! The checks look at a night as it would stand with the count: its facts, what they add up to, the
//! spans that would end with it, and the spans before. They never say what a count should come to.

mod check;
mod triage;

pub use check::{About, Check, Kind, Reading, Treatment};
pub use triage::{Triage, triage};
