//! How much is to be ready: pars, and what is still to be prepared.

pub mod pars;
pub mod prep;
