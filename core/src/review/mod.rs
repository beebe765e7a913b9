//! Which stores a coach should look at, and why.
//!
//! A [`Sheet`] holds nights of stores in columns, whether it was made from tallies or from a file.
//! [`list()`] compares each store of a district with fair peers and with its own past; [`detect()`] finds
//! what stands out, night by night. Nothing here accuses: every answer carries how many nights it comes
//! from and the range it lies in.

mod case;
mod causes;
mod column;
mod course;
mod detect;
mod finding;
#[cfg(test)]
mod kept;
mod label;
mod list;
mod measure;
mod peers;
mod sheet;
mod tallied;
mod together;
mod verdict;
mod words;

pub use case::{CaseCheck, CaseEvent, CaseStage, Earlier, MOST_A_WEEK, NotNow, Progress, raise};
pub use causes::{Cause, Change, Clues, Considered, Explained, PartChange, explain};
pub use column::{Column, Figures};
pub use course::{Week, course};
pub use detect::{Detector, Look, detect};
pub use finding::{Baseline, Evidence, Finding, FindingKind, Habit};
pub use label::{Label, Labels};
pub use list::{LISTED_NIGHTS, Listed, ListedMeasure, Past, Reviewed, Unranked, list};
pub use measure::Measure;
pub use peers::{Basis, Peers};
pub use sheet::{Sheet, SheetError, Status, StoreNight, UnitCost};
pub use tallied::{NightFigures, NightReader};
pub use together::{Common, Moved, Together, together};
pub use verdict::{Effect, Judgement, Verdict, Windows, judge};
