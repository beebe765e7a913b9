//! What is read from many nights at once.

pub mod changes;
pub mod exports;
pub mod rollups;
pub mod safety;
pub mod tolerances;
pub mod transfers;
