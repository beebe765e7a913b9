//! The rules of Parings: what counts, entries and sales of a kitchen add up to.
//!
//! *Facts in, additive tallies in the middle, ratios out.* [`night`] is what people and tills
//! record; [`tally`] works a date's facts into whole numbers and joins dates to spans; [`rollup`]
//! merges them for any scope and makes measures once, at the end.
//!
//! | Module | What lives there |
//! |-|-|
//! | [`ids`] | codes and ids that cannot be mistaken for one another |
//! | [`access`] | roles, and the one policy |
//! | [`bytes`] | whole numbers as few bytes |
//! | [`quantity`] | exact mass, volume and count; what is typed, converted, tallied |
//! | [`money`] | money of the network's currency, prices of a unit |
//! | [`calendar`] | business dates, zones, cut-offs, clock ranges |
//! | [`stats`] | intervals, quantiles, spreads; knows no kitchen words |
//! | [`yields`] | stages, their standards, batches, portions |
//! | [`tickets`] | how long orders took, mergeable |
//! | [`catalog`] | the documents of head office, in force on a date as known at a moment |
//! | [`usage`] | what was used between two counts, and where the difference went |
//! | [`night`] | the count, the entries, the till's feed, the sheet |
//! | [`tally`] | records of a date and of a span, and the rows behind a figure |
//! | [`checks`] | what is asked about a night before it is relied on |
//! | [`rollup`] | scopes and spans to measures with intervals |
//! | [`pars`] | what should be ready when a daypart begins; which set says so, and since when |
//! | [`prep`] | what stock is usable, and how many batches are to be made |
//! | [`review`] | which stores to look at, and why |
//!
//! A module uses only those above it in this table. Nothing here does input or output, asks for
//! the time or takes a chance: what is needed of them is an argument. Amounts are exact, and are
//! rounded once a store, night and item; `f64` is for statistics alone.

pub mod access;
pub mod bytes;
pub mod calendar;
pub mod catalog;
pub mod checks;
pub mod ids;
pub mod money;
pub mod night;
pub mod pars;
pub mod prep;
pub mod quantity;
pub mod review;
pub mod rollup;
pub mod stats;
pub mod tally;
pub mod tickets;
pub mod usage;
pub mod yields;
