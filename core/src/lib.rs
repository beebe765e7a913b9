//! The rules of Parings.

pub mod access;
pub mod ids;
pub mod stats;
pub mod tickets;
pub mod yields;
