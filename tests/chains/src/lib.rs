//! Invented chains with faults planted in them, and what a review finds there.
//!
//! This is a package of its own so that it builds with the rules alone: a release build takes seconds,
//! where one of the server takes minutes.

pub mod chain;
pub mod chance;
pub mod fault;
pub mod regime;
pub mod score;
pub mod ways;
pub mod yardsticks;
