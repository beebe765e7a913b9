//! What people and tills record of a night: the closing count, the entries of the day, the feed.
//!
//! These are facts. They are kept as typed, checked against the catalogue of their date before
//! they are taken, and never changed afterwards: a count is revised as a whole, an entry withdrawn,
//! a till's line superseded by a later one of the same id.

mod amount;
mod check;
mod count;
mod diff;
mod entry;
mod life;
mod sheet;
pub mod shelves;
#[cfg(test)]
mod tests;
mod till;
mod transfers;

pub(crate) use amount::line_amount;
pub use amount::{AmountError, amount};
pub(crate) use check::due_items;
pub use check::{blanks, check_count, check_discard, check_entry, check_till};
pub use count::{Count, CountLine, UnitsSold};
pub use diff::{CountDiff, ShelfDiff, UnitsDiff, diff};
pub use entry::{Entry, EntryBody, Step};
pub use life::{NoSuchWord, RevisionEvent, Settled, State};
pub use sheet::{CountSheet, SheetLine, SheetPack, SheetPan, SheetStage, sheet};
pub use till::{AdditionSold, Outcome, Sale, TillBatch, TillTicket, When};
pub use transfers::{Direction, Transfer, TransferEnd, match_transfers};
