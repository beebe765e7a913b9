//! A night and its facts: how they come, what they add up to, and how one night is told.

pub mod approvals;
pub mod as_known;
pub mod checks;
pub mod confirmations;
pub mod entries;
pub mod facts;
pub mod history;
pub mod loading;
pub mod nights;
pub mod openings;
pub mod parts;
pub mod receipts;
pub mod retally;
pub mod revisions;
pub mod saving;
pub mod sheet;
pub mod stood;
pub mod tallying;
pub mod till;
pub mod trace;
pub mod verify;
pub mod weeks;
