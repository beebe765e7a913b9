//! The Parings server.

pub mod cluster;
