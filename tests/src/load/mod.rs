//! How fast it is: a server under load on this machine, and the same work done by the database
//! alone. `cargo run --release -p parings-tests --bin measure` prints what it finds.
//!
//! Everything listens on the loopback address or on a socket, and every run is bounded in time.

pub mod bounds;
pub mod capture;
pub mod chain;
pub mod drive;
pub mod imports;
pub mod process;
pub mod replay;
pub mod rollups;
pub mod stage;
pub mod table;
