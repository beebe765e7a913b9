//! Queries. Functions take a connection, never a pool; rows are not domain types.

pub mod acting;
pub mod answers;
pub mod audit;
pub(in crate::db) mod bulk;
pub mod catalog;
pub mod changes;
pub mod checks;
pub mod entries;
pub mod known;
pub mod loading;
pub mod login;
pub mod migrate;
pub mod nights;
pub mod people;
pub mod pool;
pub mod reference;
pub mod rollups;
pub mod schema;
pub mod sessions;
pub mod settlements;
pub(crate) mod statement;
pub mod tallies;
pub mod till;
pub mod transfers;
pub mod verify;
pub mod writes;
