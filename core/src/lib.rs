//! The rules of Parings.

pub mod access;
pub mod calendar;
pub mod catalog;
pub mod ids;
pub mod money;
pub mod night;
pub mod quantity;
pub mod rollup;
pub mod stats;
pub mod tally;
pub mod tickets;
pub mod usage;
pub mod yields;
