//! Business dates, cut-offs, clock ranges and periods.
//!
//! A kitchen's day does not end at midnight. Each store has an IANA [`Zone`] and a [`CutOff`]; what
//! its wall clock shows before the cut-off belongs to the day before. Instants are in UTC, and so
//! are durations: a business day has 23 or 25 hours when clocks change.
//!
//! ```
//! use parings_core::calendar::{BusinessDate, CutOff, Zone, business_date, instant};
//!
//! let berlin: Zone = "Europe/Berlin".parse().unwrap();
//! // 00:40 on Saturday by the wall, after Friday's close.
//! let counted = instant::parse("2025-06-13T22:40:00Z").unwrap();
//! let friday = BusinessDate::new(2025, 6, 13).unwrap();
//! assert_eq!(business_date(counted, &berlin, CutOff::default()), friday);
//! ```

mod clock;
mod date;
mod day;
pub mod instant;
mod periods;
mod span;

use chrono::NaiveTime;

use crate::quantity::cut;

pub use clock::{ClockRange, CutOff};
pub use date::{BusinessDate, Weekday, week_start};
pub use day::{Zone, business_date, day_bounds, wall_time};
pub use periods::{Period, Periods, WeekPattern, WeekYears, YearDay};
pub use span::DateSpan;

/// Why a date, a time or a zone was refused. Each message says what to send instead.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum CalendarError {
    /// No date of the calendar, or written otherwise.
    #[error("\"{text}\" is not a date: use YYYY-MM-DD, such as 2025-06-13")]
    NotADate {
        /// The text as it came, cut to its first 60 characters.
        text: String,
    },
    /// No time of a clock, or written otherwise.
    #[error("\"{text}\" is not a time: use HH:MM from 00:00 to 23:59")]
    NotATime {
        /// The text as it came, cut to its first 60 characters.
        text: String,
    },
    /// No instant, or written without its offset.
    #[error(
        "\"{text}\" is not an instant: use RFC 3339 with an offset, such as 2025-06-13T22:40:00Z"
    )]
    NotAnInstant {
        /// The text as it came, cut to its first 60 characters.
        text: String,
    },
    /// No day of the week.
    #[error("\"{text}\" is not a day of the week: use mon, tue, wed, thu, fri, sat or sun")]
    NotAWeekday {
        /// The text as it came, cut to its first 60 characters.
        text: String,
    },
    /// No day that every year has.
    #[error("\"{text}\" is not a day of every year: use MM-DD, such as 02-01, but not 02-29")]
    NotAYearDay {
        /// The text as it came, cut to its first 60 characters.
        text: String,
    },
    /// No zone of the time zone database.
    #[error("\"{text}\" is not a time zone: use an IANA name, such as Europe/Berlin")]
    UnknownZone {
        /// The text as it came, cut to its first 60 characters.
        text: String,
    },
    /// A cut-off in the afternoon.
    #[error("{time} is too late for a cut-off: use 00:00 to 11:59")]
    LateCutOff {
        /// The time as it came.
        time: NaiveTime,
    },
    /// A time finer than a minute.
    #[error("{time} is finer than a minute: use whole minutes")]
    NotWholeMinutes {
        /// The time as it came.
        time: NaiveTime,
    },
    /// A span that ends before it starts.
    #[error("a span from {from} to {to} ends before it starts: swap the two")]
    Reversed {
        /// The first date as it came.
        from: BusinessDate,
        /// The last date as it came.
        to: BusinessDate,
    },
}

/// Implements the text form of a type from its `FromStr` and `Display`.
macro_rules! as_text {
    ($($name:ident)*) => {$(
        impl TryFrom<String> for $name {
            type Error = crate::calendar::CalendarError;
            fn try_from(text: String) -> Result<Self, Self::Error> {
                text.parse()
            }
        }

        impl From<$name> for String {
            fn from(value: $name) -> Self {
                value.to_string()
            }
        }
    )*};
}
use as_text;
