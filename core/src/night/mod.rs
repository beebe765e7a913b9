//! A night: the sheet it is counted by.

mod sheet;

pub use sheet::{Sheet, SheetLine, SheetPack, SheetPan, SheetStage, sheet};
