//! Queries. Functions take a connection, never a pool; rows are not domain types.

pub mod acting;
pub mod migrate;
pub mod pool;
