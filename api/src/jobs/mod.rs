//! What runs beside the server, by the clock.

pub mod partitions;
