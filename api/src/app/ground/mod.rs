//! What every use case stands on: the catalogue of a date, who was noted doing what, writes that can be
//! sent again, and the state of the database itself.

pub mod audit;
pub mod catalog;
pub mod names;
pub mod partitions;
pub mod readiness;
pub mod turns;
pub mod writes;
