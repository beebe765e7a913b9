//! Which business date an instant belongs to, and where a business day starts and ends.

use std::fmt;

use chrono::offset::LocalResult;
use chrono::{DateTime, NaiveDate, NaiveDateTime, NaiveTime, TimeZone, Utc};
use chrono_tz::{GapInfo, Tz};
use serde::{Deserialize, Serialize};

use super::{BusinessDate, CalendarError, CutOff, as_text, cut};

/// A zone of the IANA time zone database. JSON and text: its name.
///
/// ```
/// use parings_core::calendar::Zone;
///
/// assert_eq!("Asia/Kathmandu".parse::<Zone>().unwrap().name(), "Asia/Kathmandu");
/// assert!("Berlin".parse::<Zone>().is_err());
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub struct Zone(Tz);

impl Zone {
    /// The name in the database.
    pub fn name(self) -> &'static str {
        self.0.name()
    }

    /// The zone as chrono takes it.
    pub fn tz(self) -> Tz {
        self.0
    }
}

impl From<Tz> for Zone {
    fn from(tz: Tz) -> Self {
        Self(tz)
    }
}

impl std::str::FromStr for Zone {
    type Err = CalendarError;
    fn from_str(text: &str) -> Result<Self, CalendarError> {
        text.parse().map(Self).map_err(|_| CalendarError::UnknownZone { text: cut(text) })
    }
}

impl fmt::Display for Zone {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.name())
    }
}

as_text! { Zone }

/// The business date of an instant: what the wall clock shows, and before the cut-off the calendar
/// date before that.
///
/// Taking the cut-off's hours from the instant instead is wrong on the nights when clocks change.
///
/// ```
/// use parings_core::calendar::{CutOff, Zone, business_date, instant};
///
/// let berlin: Zone = "Europe/Berlin".parse().unwrap();
/// let at = |text| business_date(instant::parse(text).unwrap(), &berlin, CutOff::default());
/// // 05:10 on the Sunday that skips 02:00 to 03:00. Five hours earlier it was 23:10 on Saturday.
/// assert_eq!(at("2025-03-30T05:10:00+02:00").to_string(), "2025-03-30");
/// assert_eq!(at("2025-03-30T00:40:00+01:00").to_string(), "2025-03-29");
/// ```
pub fn business_date(instant: DateTime<Utc>, zone: &Zone, cut_off: CutOff) -> BusinessDate {
    let wall = instant.with_timezone(&zone.0).naive_local();
    let date = BusinessDate::from(wall.date());
    if wall.time() < cut_off.time() { date.pred() } else { date }
}

/// The instant at which a business day starts, and the one at which the next starts: 24 hours
/// apart, or 23 or 25 when clocks change.
///
/// A cut-off that the clocks skip is the first instant after the gap. One that comes twice is its
/// first coming; [`business_date`] goes by the wall clock, so it reads the repeated minutes before
/// the cut-off as the day before once more. Clocks change between midnight and 03:00 nearly
/// everywhere, so the default of 05:00 is neither skipped nor repeated.
///
/// ```
/// use parings_core::calendar::{BusinessDate, CutOff, Zone, day_bounds};
///
/// let berlin: Zone = "Europe/Berlin".parse().unwrap();
/// let saturday = BusinessDate::new(2025, 3, 29).unwrap();
/// let (start, end) = day_bounds(saturday, &berlin, CutOff::default());
/// assert_eq!(start.to_rfc3339(), "2025-03-29T04:00:00+00:00");
/// assert_eq!((end - start).num_hours(), 23);
/// ```
pub fn day_bounds(
    date: BusinessDate,
    zone: &Zone,
    cut_off: CutOff,
) -> (DateTime<Utc>, DateTime<Utc>) {
    (start(date, zone.0, cut_off), start(date.succ(), zone.0, cut_off))
}

fn start(date: BusinessDate, tz: Tz, cut_off: CutOff) -> DateTime<Utc> {
    at_wall(NaiveDate::from(date).and_time(cut_off.time()), tz)
}

/// The instant at which the wall clock of a business day shows a time: before the cut-off it is
/// that of the next calendar date. A time that the clocks skip is the first instant after the gap,
/// one that comes twice its first coming.
///
/// ```
/// use parings_core::calendar::{BusinessDate, CutOff, Zone, wall_time};
/// use chrono::NaiveTime;
///
/// let berlin: Zone = "Europe/Berlin".parse().unwrap();
/// let saturday = BusinessDate::new(2025, 3, 29).unwrap();
/// let half_two = NaiveTime::from_hms_opt(2, 30, 0).unwrap();
/// // The clocks go from 02:00 to 03:00 in that night.
/// let at = wall_time(saturday, half_two, &berlin, CutOff::default());
/// assert_eq!(at.to_rfc3339(), "2025-03-30T01:00:00+00:00");
/// ```
pub fn wall_time(
    date: BusinessDate,
    time: NaiveTime,
    zone: &Zone,
    cut_off: CutOff,
) -> DateTime<Utc> {
    let date = if time < cut_off.time() { date.succ() } else { date };
    at_wall(NaiveDate::from(date).and_time(time), zone.0)
}

fn at_wall(wall: NaiveDateTime, tz: Tz) -> DateTime<Utc> {
    match tz.from_local_datetime(&wall) {
        LocalResult::Single(at) | LocalResult::Ambiguous(at, _) => at.to_utc(),
        // Only at the very ends of the calendar is there neither a time nor a gap.
        LocalResult::None => GapInfo::new(&wall, &tz)
            .and_then(|gap| gap.end)
            .map_or_else(|| wall.and_utc(), |after| after.to_utc()),
    }
}

#[cfg(test)]
mod tests;
