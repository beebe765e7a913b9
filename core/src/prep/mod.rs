//! What is to be prepared for a daypart: what stock will still be usable, what is missing to the
//! par, and how many whole batches that is.
//!
//! A discard time is never extended here. Local limits and the plans approved for a kitchen decide
//! what may be kept, and they may be stricter than what was written down.

mod need;
mod stock;

pub use need::{Batch, Batches, Need, Offer, PrepError, batch_of, need};
pub use stock::{Lot, OnHand, Stock, Unknown, Usable, on_hand};
