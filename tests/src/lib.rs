//! Helpers of the whole-system tests.
//!
//! [`house()`] gives a test a server of its own on a database of its own:
//!
//! ```no_run
//! use parings_tests::house;
//!
//! # async fn example() {
//! let house = house().await;
//! let reply = house.get("/healthz", None).await;
//! reply.expect(200);
//! # }
//! ```
//!
//! The tests need `cargo nextest`: its setup script (`test-cluster`) starts one private PostgreSQL
//! cluster for the run and makes the migrated database that each test's own is copied from.

pub mod database;
pub mod golden;
pub mod house;
pub mod load;
pub mod mixture;
pub mod network;
pub mod night;
pub mod reply;
pub mod session;
pub mod slips;
pub mod tallies;
pub mod worked;

pub use database::Database;
pub use house::{House, Person, house};
pub use reply::Reply;
pub mod waiting;
