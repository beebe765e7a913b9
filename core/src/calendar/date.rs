//! The date a kitchen's work is booked on.

use std::fmt;

use chrono::{Datelike, NaiveDate, TimeDelta};
use serde::{Deserialize, Serialize};

use super::{CalendarError, as_text, cut};

/// The date on which a store's work is booked. JSON and text: `YYYY-MM-DD` (ISO 8601), nothing
/// shorter or longer. It is no point in time: [`day_bounds`](super::day_bounds) gives those.
///
/// ```
/// use parings_core::calendar::{BusinessDate, Weekday};
///
/// let friday: BusinessDate = "2025-06-13".parse().unwrap();
/// assert_eq!(friday.weekday(), Weekday::Fri);
/// assert_eq!(friday.plus_days(3).to_string(), "2025-06-16");
/// assert_eq!(friday.pred().days_until(friday.succ()), 2);
/// ```
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub struct BusinessDate(NaiveDate);

impl BusinessDate {
    /// The date of a year, month and day.
    ///
    /// # Errors
    /// [`CalendarError::NotADate`] for a day that the calendar does not have.
    pub fn new(year: i32, month: u32, day: u32) -> Result<Self, CalendarError> {
        NaiveDate::from_ymd_opt(year, month, day).map(Self).ok_or_else(|| CalendarError::NotADate {
            text: format!("{year:04}-{month:02}-{day:02}"),
        })
    }

    /// The day before.
    pub fn pred(self) -> Self {
        self.plus_days(-1)
    }

    /// The day after.
    pub fn succ(self) -> Self {
        self.plus_days(1)
    }

    /// So many days later, or earlier below zero. Stops at the ends of the calendar, some 260,000
    /// years away.
    pub fn plus_days(self, days: i64) -> Self {
        let end = if days < 0 { NaiveDate::MIN } else { NaiveDate::MAX };
        let later = TimeDelta::try_days(days).and_then(|d| self.0.checked_add_signed(d));
        Self(later.unwrap_or(end))
    }

    /// Days from this date to the other; below zero if that is earlier.
    pub fn days_until(self, other: Self) -> i64 {
        (other.0 - self.0).num_days()
    }

    /// Days since the calendar began: to compare and subtract many dates.
    pub(crate) fn number(self) -> i64 {
        self.0.num_days_from_ce().into()
    }

    /// The day of the week.
    pub fn weekday(self) -> Weekday {
        self.0.weekday().into()
    }
}

/// The Monday of the ISO 8601 week that holds the date.
///
/// ```
/// use parings_core::calendar::{BusinessDate, week_start};
///
/// let sunday: BusinessDate = "2025-06-15".parse().unwrap();
/// assert_eq!(week_start(sunday).to_string(), "2025-06-09");
/// ```
pub fn week_start(date: BusinessDate) -> BusinessDate {
    date.plus_days(-i64::from(date.0.weekday().num_days_from_monday()))
}

impl From<NaiveDate> for BusinessDate {
    fn from(date: NaiveDate) -> Self {
        Self(date)
    }
}

impl From<BusinessDate> for NaiveDate {
    fn from(date: BusinessDate) -> Self {
        date.0
    }
}

impl std::str::FromStr for BusinessDate {
    type Err = CalendarError;
    fn from_str(text: &str) -> Result<Self, CalendarError> {
        let bytes = text.as_bytes();
        let shaped = bytes.len() == 10
            && bytes.iter().enumerate().all(|(i, b)| match i {
                4 | 7 => *b == b'-',
                _ => b.is_ascii_digit(),
            });
        NaiveDate::parse_from_str(text, "%Y-%m-%d")
            .ok()
            .filter(|_| shaped)
            .map(Self)
            .ok_or_else(|| CalendarError::NotADate { text: cut(text) })
    }
}

impl fmt::Display for BusinessDate {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.fmt(f)
    }
}

impl fmt::Debug for BusinessDate {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "BusinessDate({self})")
    }
}

/// A day of the week, in ISO 8601 order. JSON and text: `mon` to `sun`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
#[expect(missing_docs, reason = "the names say it")]
pub enum Weekday {
    Mon,
    Tue,
    Wed,
    Thu,
    Fri,
    Sat,
    Sun,
}

impl Weekday {
    /// Monday to Sunday.
    pub const ALL: [Self; 7] =
        [Self::Mon, Self::Tue, Self::Wed, Self::Thu, Self::Fri, Self::Sat, Self::Sun];

    /// The day's word.
    pub fn word(self) -> &'static str {
        match self {
            Self::Mon => "mon",
            Self::Tue => "tue",
            Self::Wed => "wed",
            Self::Thu => "thu",
            Self::Fri => "fri",
            Self::Sat => "sat",
            Self::Sun => "sun",
        }
    }
}

impl From<chrono::Weekday> for Weekday {
    fn from(day: chrono::Weekday) -> Self {
        match day {
            chrono::Weekday::Mon => Self::Mon,
            chrono::Weekday::Tue => Self::Tue,
            chrono::Weekday::Wed => Self::Wed,
            chrono::Weekday::Thu => Self::Thu,
            chrono::Weekday::Fri => Self::Fri,
            chrono::Weekday::Sat => Self::Sat,
            chrono::Weekday::Sun => Self::Sun,
        }
    }
}

impl std::str::FromStr for Weekday {
    type Err = CalendarError;
    fn from_str(text: &str) -> Result<Self, CalendarError> {
        let day = Self::ALL.into_iter().find(|day| day.word() == text);
        day.ok_or_else(|| CalendarError::NotAWeekday { text: cut(text) })
    }
}

impl fmt::Display for Weekday {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.word())
    }
}

as_text! { BusinessDate Weekday }

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn a_date_is_written_in_full_and_exists() {
        // ISO 8601 calendar dates in the extended format; leap years of the Gregorian rule.
        for good in ["1985-04-12", "2024-02-29", "2000-02-29", "0001-01-01", "9999-12-31"] {
            let json = format!("\"{good}\"");
            let date: BusinessDate = serde_json::from_str(&json).expect(good);
            assert_eq!(serde_json::to_string(&date).unwrap(), json);
        }
        for bad in [
            "",
            "1985-4-12",
            "1985-04-12T23:20:50Z",
            "19850412",
            "1985-102",
            "2024-W01-1",
            "2023-02-29",
            "1900-02-29",
            "2023-04-31",
            "2023-13-01",
            "2023-00-10",
            "+2023-01-01",
            "+202-01-01",
            "12023-01-01",
            "2023/01/01",
            " 2023-01-01",
            "2023-01- 1",
            "２023-01-0",
        ] {
            let error = bad.parse::<BusinessDate>().expect_err(bad).to_string();
            assert!(error.contains("use YYYY-MM-DD"), "{error}");
        }
        assert!(BusinessDate::new(2023, 2, 29).is_err());
        assert_eq!(BusinessDate::new(2024, 2, 29).unwrap().succ().to_string(), "2024-03-01");
    }

    #[test]
    fn weeks_start_on_the_monday_of_iso_8601() {
        // ISO 8601 week dates at the turn of the year (from memory): 2005-01-01 is 2004-W53-6,
        // 2008-12-29 is 2009-W01-1, 2010-01-03 is 2009-W53-7. chrono's ISO weeks agree below.
        for (date, monday) in [
            ("2005-01-01", "2004-12-27"),
            ("2008-12-29", "2008-12-29"),
            ("2010-01-03", "2009-12-28"),
            ("2025-06-13", "2025-06-09"),
        ] {
            let date: BusinessDate = date.parse().unwrap();
            assert_eq!(week_start(date).to_string(), monday);
        }
    }

    #[test]
    fn weekdays_are_words() {
        let words = serde_json::to_string(&Weekday::ALL).unwrap();
        assert_eq!(words, r#"["mon","tue","wed","thu","fri","sat","sun"]"#);
        assert_eq!(serde_json::from_str::<[Weekday; 7]>(&words).unwrap(), Weekday::ALL);
        assert!("Mon".parse::<Weekday>().is_err());
        // 20 July 1969 was a Sunday.
        assert_eq!(BusinessDate::new(1969, 7, 20).unwrap().weekday(), Weekday::Sun);
    }

    #[test]
    fn the_calendar_ends_without_a_panic() {
        let last = BusinessDate::from(NaiveDate::MAX);
        assert_eq!(last.succ(), last);
        assert_eq!(last.plus_days(i64::MIN), BusinessDate::from(NaiveDate::MIN));
        assert_eq!(week_start(BusinessDate::from(NaiveDate::MIN)).0, NaiveDate::MIN);
    }

    proptest! {
        #[test]
        fn days_add_up(from in -700_000_i64..700_000, days in -700_000_i64..700_000) {
            let date = BusinessDate::new(1970, 1, 1).unwrap().plus_days(from);
            prop_assert_eq!(date.days_until(date.plus_days(days)), days);
            prop_assert_eq!(date.plus_days(days).plus_days(-days), date);
            prop_assert_eq!(date.pred().succ(), date);
            prop_assert_eq!(NaiveDate::from(week_start(date)).iso_week(), date.0.iso_week());
            prop_assert_eq!(week_start(date).weekday(), Weekday::Mon);
        }
    }
}
