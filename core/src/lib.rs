//! The rules of Parings.

pub mod access;
pub mod ids;
