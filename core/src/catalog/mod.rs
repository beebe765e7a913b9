//! What head office sets: items, the menu, places, people's calendar, reasons, limits.
//!
//! Nothing of the trade is fixed in code that a chain could do otherwise: kinds of items, stages
//! and their order, sizes, reasons, dayparts, channels are documents. Every document is a version,
//! in force from a business date on; [`Catalog`] is the set that was in force on one date, as far
//! as was known at one moment.

mod behind;
mod catalogue;
mod day;
mod document;
mod item;
mod limits;
mod menu;
mod names;
mod needs;
mod place;
mod settings;
#[cfg(test)]
mod tests;
mod timeline;
mod typed;

pub use catalogue::{Catalog, NotFound};
pub use day::{Channel, Daypart, DaypartSet, DaypartsFor, Reason, TicketTarget};
pub use document::{Document, Flaw, Kind};
pub use item::{Input, Item, Pack, Pan, Preparation, Price, Rhythm, Shelf};
pub use limits::{Hours, Limits, Minutes, Spreads};
pub use menu::{Addition, ComboPart, Product, RecipeLine, Size};
pub use needs::{Needs, RecipeError};
pub use place::{District, Format, Fryer, OtherHours, Owner, Region, StoragePlace, Store};
pub use settings::Settings;
pub use timeline::{Network, StoreTimeline, Timeline};
pub use typed::{MeasureError, Typed, UnitName};
