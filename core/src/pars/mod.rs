//! Standard pars: how much of an item should be ready when a daypart begins.
//!
//! A [`ParSet`] is a document of head office: amounts by item, weekday and daypart, for a format or
//! by default. It takes effect by a *publication* from a business date on. Publications are only
//! added; which set was in force on a date as known at a moment follows from those recorded by then
//! ([`Publications`]), and a roll-back is one more of them.
//!
//! ```
//! use parings_core::calendar::Weekday;
//! use parings_core::pars::{ParSet, Whose};
//! let set: ParSet = serde_json::from_str(r#"{"title": "Autumn", "lines": [
//!     {"item": "potato", "weekdays": ["fri", "sat"], "dayparts": ["dinner"],
//!      "par": {"quantity": {"value": "72", "unit": "kg"}, "stage": "chill"}}],
//!   "formats": [{"format": "kiosk", "lines": [
//!     {"item": "potato", "weekdays": ["fri"], "dayparts": ["dinner"],
//!      "par": {"quantity": {"value": "1.5", "unit": "bag"}, "stage": "chill"}}]}]}"#).unwrap();
//! let kiosk = Whose { format: "kiosk".parse().unwrap() };
//! let said = |day| {
//!     let (_, applied) = set.on(&kiosk, day).into_iter().next().unwrap();
//!     format!("{} by {}", applied.par.quantity, applied.rule)
//! };
//! assert_eq!(said(Weekday::Fri), "1.5 bag by format kiosk");
//! assert_eq!(said(Weekday::Sat), "72 kg by default");
//! assert!(set.on(&kiosk, Weekday::Mon).is_empty());
//! ```

mod differ;
mod publish;
mod set;

pub use differ::{BatchChange, Difference, ParChange, difference, same};
pub use publish::{NothingBefore, Publication, PublicationId, Publications, RollBack, earliest};
pub use set::{
    Applied, BatchSize, FormatPars, Par, ParKey, ParLine, ParSet, Revision, Rule, Whose,
};
