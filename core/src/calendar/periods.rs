//! The periods a chain keeps its books by.

use std::fmt;

use chrono::{Datelike, NaiveDate};
use serde::{Deserialize, Serialize};

use super::{BusinessDate, CalendarError, DateSpan, Weekday, as_text, cut};

/// How a year is cut into periods. JSON: `"months"`, or
/// `{"weeks":{"pattern":"4-4-5","on":"mon","nearest":"02-01"}}`.
///
/// Years of whole weeks have 52 of them, some 53; the 53rd joins the last period. Periods follow
/// each other without gap or overlap, from year to year.
///
/// ```
/// use parings_core::calendar::{BusinessDate, Periods};
/// let date = BusinessDate::new(2024, 2, 3).unwrap();
/// let month = Periods::Months.period_of(date);
/// assert_eq!((month.year(), month.number(), month.span().nights()), (2024, 2, 29));
///
/// // A Saturday: the last day of a year of 53 weeks, so its last period has five.
/// let weeks = r#"{"weeks":{"pattern":"4-5-4","on":"sun","nearest":"02-01"}}"#;
/// let weeks: Periods = serde_json::from_str(weeks).unwrap();
/// let period = weeks.period_of(date);
/// assert_eq!((period.year(), period.number(), period.span().nights()), (2023, 12, 35));
/// assert!(weeks.is_last_day(date));
/// assert_eq!(weeks.before(period).span().nights(), 35);
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Periods {
    /// The months of the calendar.
    #[default]
    Months,
    /// Periods of whole weeks, in years of 52 or 53 weeks.
    Weeks(WeekYears),
}

/// Years of whole weeks.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct WeekYears {
    /// How many weeks each period has.
    pub pattern: WeekPattern,
    /// The day of the week on which years start …
    pub on: Weekday,
    /// … the one nearest to this day, up to three days before or after it. A year has the number
    /// of the calendar year in which this day lies.
    pub nearest: YearDay,
}

/// How many weeks each period of a year has.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub enum WeekPattern {
    /// Twelve periods: 4, 4 and 5 weeks, four times.
    #[serde(rename = "4-4-5")]
    FourFourFive,
    /// Twelve periods: 4, 5 and 4 weeks, four times.
    #[serde(rename = "4-5-4")]
    FourFiveFour,
    /// Twelve periods: 5, 4 and 4 weeks, four times.
    #[serde(rename = "5-4-4")]
    FiveFourFour,
    /// Thirteen periods of 4 weeks.
    #[serde(rename = "13x4")]
    ThirteenFours,
}

/// A day that every year has. JSON and text: `MM-DD`, so not `02-29`.
///
/// ```
/// use parings_core::calendar::YearDay;
/// assert_eq!("02-01".parse::<YearDay>().unwrap().to_string(), "02-01");
/// assert!("02-29".parse::<YearDay>().is_err());
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub struct YearDay {
    month: u32,
    day: u32,
}

/// A period of a year.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Period {
    year: i32,
    number: u32,
    span: DateSpan,
}

impl Period {
    /// The year it belongs to.
    pub fn year(self) -> i32 {
        self.year
    }

    /// Its number in the year, from 1.
    pub fn number(self) -> u32 {
        self.number
    }

    /// The first and the last business date of the period, with all between.
    pub fn span(self) -> DateSpan {
        self.span
    }
}

impl Periods {
    /// The period that holds a date.
    pub fn period_of(&self, date: BusinessDate) -> Period {
        match self {
            Self::Months => self.nth(NaiveDate::from(date).year(), NaiveDate::from(date).month()),
            Self::Weeks(weeks) => {
                let year = weeks.year_of(date);
                let begun = |number: &u32| weeks.first_of(year, *number) <= date;
                let number = (1..=self.a_year()).rev().find(begun).unwrap_or(1);
                self.nth(year, number)
            }
        }
    }

    /// How many periods a year has.
    pub fn a_year(&self) -> u32 {
        match self {
            Self::Weeks(WeekYears { pattern: WeekPattern::ThirteenFours, .. }) => 13,
            _ => 12,
        }
    }

    /// The period just before.
    pub fn before(&self, period: Period) -> Period {
        self.period_of(period.span.from().pred())
    }

    /// The period of the same number, a year before.
    ///
    /// ```
    /// use parings_core::calendar::{BusinessDate, Periods};
    /// let leap = Periods::Months.period_of(BusinessDate::new(2028, 2, 29).unwrap());
    /// let before = Periods::Months.a_year_before(leap);
    /// assert_eq!(before.span().to_string(), "2027-02-01 to 2027-02-28");
    /// ```
    pub fn a_year_before(&self, period: Period) -> Period {
        self.nth(period.year - 1, period.number)
    }

    /// Whether a period ends with a date.
    pub fn is_last_day(&self, date: BusinessDate) -> bool {
        self.period_of(date).span.to() == date
    }

    fn nth(&self, year: i32, number: u32) -> Period {
        let from = self.first_of(year, number);
        let (next_year, next) =
            if number < self.a_year() { (year, number + 1) } else { (year + 1, 1) };
        let to = self.first_of(next_year, next).pred().max(from);
        let span = DateSpan::new(from, to).expect("the end was raised to the start");
        Period { year, number, span }
    }

    fn first_of(&self, year: i32, number: u32) -> BusinessDate {
        match self {
            Self::Months => in_year(year, number, 1),
            Self::Weeks(weeks) => weeks.first_of(year, number),
        }
    }
}

/// A day of a year; the end of the calendar where it does not reach that far.
fn in_year(year: i32, month: u32, day: u32) -> BusinessDate {
    let end = if year < 0 { NaiveDate::MIN } else { NaiveDate::MAX };
    NaiveDate::from_ymd_opt(year, month, day).unwrap_or(end).into()
}

impl WeekYears {
    fn start_of(self, year: i32) -> BusinessDate {
        let three_before = in_year(year, self.nearest.month, self.nearest.day).plus_days(-3);
        let starts = |date: &BusinessDate| date.weekday() == self.on;
        let week = (0..7).map(|days| three_before.plus_days(days));
        // Only at the ends of the calendar is there no whole week.
        week.into_iter().find(starts).unwrap_or(three_before)
    }

    /// A year may start in the last days of the calendar year before its own.
    fn year_of(self, date: BusinessDate) -> i32 {
        let year = NaiveDate::from(date).year();
        let begun = |year: &i32| self.start_of(*year) <= date;
        [year + 1, year].into_iter().find(begun).unwrap_or(year - 1)
    }

    fn first_of(self, year: i32, number: u32) -> BusinessDate {
        let weeks: u32 = (1..number).map(|before| self.pattern.weeks(before)).sum();
        self.start_of(year).plus_days(i64::from(weeks) * 7)
    }
}

impl WeekPattern {
    /// The weeks of a period, a 53rd left out.
    fn weeks(self, number: u32) -> u32 {
        let five = match self {
            Self::FiveFourFour => 1,
            Self::FourFiveFour => 2,
            Self::FourFourFive => 0,
            Self::ThirteenFours => return 4,
        };
        if number % 3 == five { 5 } else { 4 }
    }
}

impl std::str::FromStr for YearDay {
    type Err = CalendarError;
    fn from_str(text: &str) -> Result<Self, CalendarError> {
        // A year without a leap day has only the days that every year has.
        let date = format!("2001-{text}").parse::<BusinessDate>();
        let date = date.map_err(|_| CalendarError::NotAYearDay { text: cut(text) })?;
        let date = NaiveDate::from(date);
        Ok(Self { month: date.month(), day: date.day() })
    }
}

impl fmt::Display for YearDay {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{:02}-{:02}", self.month, self.day)
    }
}

as_text! { YearDay }

#[cfg(test)]
mod tests;
