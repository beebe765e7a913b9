//! Times of the wall clock.

use std::fmt;

use chrono::{NaiveTime, Timelike};
use serde::{Deserialize, Serialize};

use super::{CalendarError, as_text, cut};

/// Reads `HH:MM`, nothing shorter or longer.
fn parse(text: &str) -> Result<NaiveTime, CalendarError> {
    let shaped = text.len() == 5
        && text
            .bytes()
            .enumerate()
            .all(|(i, b)| if i == 2 { b == b':' } else { b.is_ascii_digit() });
    NaiveTime::parse_from_str(text, "%H:%M")
        .ok()
        .filter(|_| shaped)
        .ok_or_else(|| CalendarError::NotATime { text: cut(text) })
}

fn whole_minutes(time: NaiveTime) -> Result<NaiveTime, CalendarError> {
    if time.second() == 0 && time.nanosecond() == 0 {
        Ok(time)
    } else {
        Err(CalendarError::NotWholeMinutes { time })
    }
}

/// The wall time at which a store's business day changes, from 00:00 to 11:59 in whole minutes;
/// 05:00 unless a store says otherwise (common practice, no source). JSON and text: `HH:MM`.
///
/// ```
/// use parings_core::calendar::CutOff;
///
/// assert_eq!(CutOff::default().to_string(), "05:00");
/// assert!("12:00".parse::<CutOff>().is_err());
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub struct CutOff(NaiveTime);

impl CutOff {
    /// The cut-off at a wall time.
    ///
    /// # Errors
    /// [`CalendarError::LateCutOff`], [`CalendarError::NotWholeMinutes`].
    pub fn new(time: NaiveTime) -> Result<Self, CalendarError> {
        if time.hour() >= 12 {
            return Err(CalendarError::LateCutOff { time });
        }
        whole_minutes(time).map(Self)
    }

    /// The time of the store's wall clock at which its business day turns.
    pub fn time(self) -> NaiveTime {
        self.0
    }
}

impl Default for CutOff {
    fn default() -> Self {
        Self(NaiveTime::from_hms_opt(5, 0, 0).expect("05:00 is a time"))
    }
}

impl std::str::FromStr for CutOff {
    type Err = CalendarError;
    fn from_str(text: &str) -> Result<Self, CalendarError> {
        Self::new(parse(text)?)
    }
}

impl fmt::Display for CutOff {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.format("%H:%M").fmt(f)
    }
}

as_text! { CutOff }

/// A stretch of the wall clock in whole minutes, from its start up to but not including its end. It
/// may pass midnight; equal ends are the whole day. JSON: `{"from":"17:00","to":"21:00"}`.
///
/// ```
/// use parings_core::calendar::ClockRange;
/// use chrono::NaiveTime;
///
/// let late: ClockRange = serde_json::from_str(r#"{"from":"21:00","to":"02:00"}"#).unwrap();
/// let at = |hour, minute| NaiveTime::from_hms_opt(hour, minute, 0).unwrap();
/// assert!(late.contains(at(21, 0)) && late.contains(at(0, 40)));
/// assert!(!late.contains(at(2, 0)) && !late.contains(at(12, 0)));
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(try_from = "RawRange", into = "RawRange")]
pub struct ClockRange {
    from: NaiveTime,
    to: NaiveTime,
}

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct RawRange {
    from: String,
    to: String,
}

impl ClockRange {
    /// A range of two wall times.
    ///
    /// # Errors
    /// [`CalendarError::NotWholeMinutes`].
    pub fn new(from: NaiveTime, to: NaiveTime) -> Result<Self, CalendarError> {
        Ok(Self { from: whole_minutes(from)?, to: whole_minutes(to)? })
    }

    /// The first time inside.
    pub fn from(self) -> NaiveTime {
        self.from
    }

    /// The first time that is no longer inside.
    pub fn to(self) -> NaiveTime {
        self.to
    }

    /// How many minutes of the clock it has; all of the day's when it ends as it begins.
    ///
    /// ```
    /// use parings_core::calendar::ClockRange;
    /// let range = |text| serde_json::from_str::<ClockRange>(text).unwrap();
    /// assert_eq!(range(r#"{"from":"11:00","to":"22:30"}"#).minutes(), 690);
    /// assert_eq!(range(r#"{"from":"21:00","to":"02:00"}"#).minutes(), 300);
    /// ```
    pub fn minutes(self) -> u32 {
        let day = 24 * 60;
        let minutes = (self.to - self.from).num_minutes().rem_euclid(day);
        u32::try_from(if minutes == 0 { day } else { minutes }).unwrap_or(u32::MAX)
    }

    /// Whether a wall time is inside.
    pub fn contains(self, time: NaiveTime) -> bool {
        if self.from < self.to {
            self.from <= time && time < self.to
        } else {
            self.from <= time || time < self.to
        }
    }
}

impl TryFrom<RawRange> for ClockRange {
    type Error = CalendarError;
    fn try_from(raw: RawRange) -> Result<Self, CalendarError> {
        Self::new(parse(&raw.from)?, parse(&raw.to)?)
    }
}

impl From<ClockRange> for RawRange {
    fn from(range: ClockRange) -> Self {
        let text = |time: NaiveTime| time.format("%H:%M").to_string();
        Self { from: text(range.from), to: text(range.to) }
    }
}

impl fmt::Display for ClockRange {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}–{}", self.from.format("%H:%M"), self.to.format("%H:%M"))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn a_cut_off_is_a_morning_minute() {
        for good in ["00:00", "02:30", "05:00", "11:59"] {
            let json = format!("\"{good}\"");
            let cut_off: CutOff = serde_json::from_str(&json).expect(good);
            assert_eq!(serde_json::to_string(&cut_off).unwrap(), json);
        }
        for bad in
            ["", "5:00", "05", "0500", "05:00:00", "05:60", "24:00", "12:00", "-5:00", " 5:00"]
        {
            assert!(bad.parse::<CutOff>().is_err(), "{bad:?} was taken");
        }
        let second = NaiveTime::from_hms_opt(5, 0, 1).unwrap();
        assert!(matches!(CutOff::new(second), Err(CalendarError::NotWholeMinutes { .. })));
    }

    #[test]
    fn a_range_refuses_what_is_no_time() {
        for bad in [
            r#"{"from":"17:00"}"#,
            r#"{"from":"17:00","to":"24:00"}"#,
            r#"{"from":"17:00","to":"5pm"}"#,
            r#"{"from":"17:00","to":"21:00","until":"22:00"}"#,
        ] {
            assert!(serde_json::from_str::<ClockRange>(bad).is_err(), "{bad}");
        }
    }

    prop_compose! {
        fn minute()(minute in 0_u32..1440) -> NaiveTime {
            NaiveTime::from_hms_opt(minute / 60, minute % 60, 0).unwrap()
        }
    }

    proptest! {
        #[test]
        fn a_range_and_its_rest_make_the_day(from in minute(), to in minute(), at in minute()) {
            let range = ClockRange::new(from, to).unwrap();
            let rest = ClockRange::new(to, from).unwrap();
            if from == to {
                prop_assert!(range.contains(at));
            } else {
                prop_assert!(range.contains(at) != rest.contains(at));
            }
            prop_assert!(range.contains(from));
            let json = serde_json::to_string(&range).unwrap();
            prop_assert_eq!(serde_json::from_str::<ClockRange>(&json).unwrap(), range);
        }
    }
}
