//! A run of business dates.

use std::fmt;

use serde::{Deserialize, Serialize};

use super::{BusinessDate, CalendarError};

/// Business dates from one to another, both inside. JSON: `{"from":"2025-06-09","to":"2025-06-15"}`.
///
/// ```
/// use parings_core::calendar::{BusinessDate, DateSpan};
///
/// let monday = BusinessDate::new(2025, 6, 9).unwrap();
/// let week = DateSpan::new(monday, monday.plus_days(6)).unwrap();
/// assert_eq!(week.nights(), 7);
/// assert_eq!(week.iter().last().unwrap().to_string(), "2025-06-15");
/// assert!(DateSpan::new(monday, monday.pred()).is_err());
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(try_from = "RawSpan")]
pub struct DateSpan {
    from: BusinessDate,
    to: BusinessDate,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RawSpan {
    from: BusinessDate,
    to: BusinessDate,
}

impl TryFrom<RawSpan> for DateSpan {
    type Error = CalendarError;
    fn try_from(raw: RawSpan) -> Result<Self, CalendarError> {
        Self::new(raw.from, raw.to)
    }
}

impl DateSpan {
    /// A span of two dates, which may be the same.
    ///
    /// # Errors
    /// [`CalendarError::Reversed`] if it would end before it starts.
    pub fn new(from: BusinessDate, to: BusinessDate) -> Result<Self, CalendarError> {
        if from > to { Err(CalendarError::Reversed { from, to }) } else { Ok(Self { from, to }) }
    }

    /// The first date.
    pub fn from(self) -> BusinessDate {
        self.from
    }

    /// The last date.
    pub fn to(self) -> BusinessDate {
        self.to
    }

    /// How many dates, at least one.
    pub fn nights(self) -> u32 {
        let days = self.from.days_until(self.to) + 1;
        u32::try_from(days).expect("the calendar has fewer than 2³² days")
    }

    /// Whether a date is inside.
    pub fn contains(self, date: BusinessDate) -> bool {
        self.from <= date && date <= self.to
    }

    /// The dates, in order.
    pub fn iter(self) -> impl DoubleEndedIterator<Item = BusinessDate> {
        (0..i64::from(self.nights())).map(move |days| self.from.plus_days(days))
    }
}

impl fmt::Display for DateSpan {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} to {}", self.from, self.to)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn a_reversed_span_is_refused_in_words() {
        let json = r#"{"from":"2025-06-15","to":"2025-06-09"}"#;
        let error = serde_json::from_str::<DateSpan>(json).unwrap_err().to_string();
        assert!(error.contains("ends before it starts"), "{error}");
    }

    proptest! {
        #[test]
        fn a_span_holds_each_of_its_dates_once(start in -30_000_i64..30_000, more in 0_i64..800) {
            let from = BusinessDate::new(2000, 1, 1).unwrap().plus_days(start);
            let to = from.plus_days(more);
            let span = DateSpan::new(from, to).unwrap();
            let dates: Vec<_> = span.iter().collect();
            prop_assert_eq!(dates.len(), span.nights() as usize);
            prop_assert!(dates.windows(2).all(|pair| pair[0].succ() == pair[1]));
            prop_assert_eq!((dates.first(), dates.last()), (Some(&from), Some(&to)));
            prop_assert!(dates.iter().all(|date| span.contains(*date)));
            prop_assert!(!span.contains(from.pred()) && !span.contains(to.succ()));
            let json = serde_json::to_string(&span).unwrap();
            prop_assert_eq!(serde_json::from_str::<DateSpan>(&json).unwrap(), span);
        }
    }
}
