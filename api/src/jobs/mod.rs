//! What runs beside the server, by the clock.

pub mod nightly;
pub mod openings;
pub mod partitions;
pub mod retally;
pub mod weeks;
