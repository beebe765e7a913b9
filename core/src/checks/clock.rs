//! Dates and clocks: which date a count is for, and whether the clocks agree.

use chrono::{DateTime, FixedOffset, NaiveTime, Offset, TimeDelta, Timelike, Utc};

use super::{About, Check, CheckKind, Given, Treatment};
use crate::calendar::{BusinessDate, ClockRange, business_date, day_bounds, wall_time};
use crate::catalog::{Daypart, Limits, Store};

/// An instant as a store keeps it: in UTC, with the offset of its wall clock at that moment (which
/// tells the two comings of a repeated hour apart), and the business date.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Stamp {
    /// The instant in UTC.
    pub at: DateTime<Utc>,
    /// How far the store's clock was ahead of UTC.
    pub offset: FixedOffset,
    /// The business date that the instant belongs to.
    pub date: BusinessDate,
}

/// The stamp of an instant at a store.
///
/// ```
/// use parings_core::catalog::Store;
/// use parings_core::checks::stamp;
/// let ford: Store = serde_json::from_str(r#"{"title":"Ford","district":"upper","owner":"brook",
///   "format":"counter","zone":"Europe/Berlin","open":["sat"]}"#).unwrap();
/// // 02:30 comes twice in the night in which summer time ends.
/// let first = stamp("2025-10-26T00:30:00Z".parse().unwrap(), &ford);
/// let second = stamp("2025-10-26T01:30:00Z".parse().unwrap(), &ford);
/// assert_eq!((first.offset.to_string(), second.offset.to_string()), ("+02:00".into(), "+01:00".into()));
/// assert_eq!(first.date, second.date);
/// ```
pub fn stamp(at: DateTime<Utc>, store: &Store) -> Stamp {
    let offset = at.with_timezone(&store.zone.tz()).offset().fix();
    Stamp { at, offset, date: business_date(at, &store.zone, store.cut_off) }
}

/// When a store trades on a date, in order: the hours that head office keeps for it, else the
/// stretches of its dayparts. Nothing when it stays closed, or when neither is kept.
pub fn trading(
    store: &Store,
    dayparts: &[Daypart],
    date: BusinessDate,
) -> Vec<(DateTime<Utc>, DateTime<Utc>)> {
    if !store.is_open(date) {
        return Vec::new();
    }
    let turn = i64::from(store.cut_off.time().num_seconds_from_midnight());
    let after =
        |time: NaiveTime| (i64::from(time.num_seconds_from_midnight()) - turn).rem_euclid(DAY);
    let at = |time| wall_time(date, time, &store.zone, store.cut_off);
    let ends = day_bounds(date, &store.zone, store.cut_off).1;
    let stretch = |hours: ClockRange| {
        let (from, to) = (hours.from(), hours.to());
        // What passes the cut-off ends with the business day.
        (at(from), if after(to) <= after(from) { ends } else { at(to) })
    };
    let mut all: Vec<_> = match store.hours_on(date) {
        Some(hours) => vec![stretch(hours)],
        None => dayparts.iter().map(|part| stretch(part.hours)).collect(),
    };
    all.sort_unstable();
    all
}

/// Seconds of a day by the clock.
const DAY: i64 = 24 * 60 * 60;

/// When a held night is settled without an answer: at the next opening after its date. Without
/// dayparts that is the start of the next open day, and without any open day within a year the end
/// of the date's own.
///
/// ```
/// use parings_core::catalog::Store;
/// use parings_core::checks::next_opening;
/// let ford: Store = serde_json::from_str(r#"{"title":"Ford","district":"upper","owner":"brook",
///   "format":"counter","zone":"Europe/Berlin","open":["fri","sat","mon"]}"#).unwrap();
/// let lunch = serde_json::from_str(
///   r#"{"code":"lunch","title":"Lunch","hours":{"from":"11:00","to":"14:00"}}"#).unwrap();
/// // Saturday's held count waits until Monday, 11:00 by the store's clock.
/// let at = next_opening(&ford, &[lunch], "2025-06-14".parse().unwrap());
/// assert_eq!(at.to_rfc3339(), "2025-06-16T09:00:00+00:00");
/// ```
pub fn next_opening(store: &Store, dayparts: &[Daypart], date: BusinessDate) -> DateTime<Utc> {
    let starts = |date| day_bounds(date, &store.zone, store.cut_off).0;
    (1..=366).map(|days| date.plus_days(days)).find(|next| store.is_open(*next)).map_or_else(
        || starts(date.succ()),
        |next| trading(store, dayparts, next).first().map_or_else(|| starts(next), |t| t.0),
    )
}

/// Whether a night is locked: so many hours after its cut-off.
pub fn locked(store: &Store, date: BusinessDate, now: DateTime<Utc>, limits: &Limits) -> bool {
    let ends = day_bounds(date, &store.zone, store.cut_off).1;
    now >= ends + TimeDelta::from(limits.lock_hours)
}

/// What the clocks say of a count: its date, the device's clock, a night of 23 or 25 hours, a
/// count that took long while the store traded, a change after the lock.
pub fn clocks(given: &Given<'_>) -> Vec<Check> {
    let all = [
        date(given),
        device_clock(given),
        clock_change(given),
        sales_during_count(given),
        back_dated_edit(given),
    ];
    all.into_iter().flatten().collect()
}

/// The date that a count is for, against the clock. An amendment says its reason anyway.
fn date(given: &Given<'_>) -> Option<Check> {
    let here = stamp(given.now, given.store);
    let wall = given.now.with_timezone(&given.store.zone.tz()).format("%H:%M");
    let named = |date: BusinessDate| format!("{} {date}", weekday(date));
    let (sent, today) = (named(given.date), named(here.date));
    let ask = |kind, says: String| Some(Check::new(kind, About::Night, says));
    let past = given.date.days_until(here.date);
    if past < 0 {
        return ask(
            CheckKind::FutureDate,
            format!("{sent} has not begun: it is {wall} of {today}"),
        );
    }
    if given.amends.is_some() {
        return None;
    }
    if past > i64::from(given.limits.old_days) {
        return ask(
            CheckKind::OldDate,
            format!("{sent} is {past} days ago. Is it for that day? Why so late?"),
        );
    }
    // Between midnight and the cut-off the calendar shows another date.
    let small_hours =
        here.at.with_timezone(&given.store.zone.tz()).time() < given.store.cut_off.time();
    let dayparts = given.catalog.dayparts_of(given.id, given.store);
    let hours = trading(given.store, &dayparts, here.date);
    let grace = TimeDelta::from(given.limits.date_hours);
    let ask = |or: BusinessDate| {
        let says =
            format!("it is {wall} of {today}. Is this the count of {sent}, or of {}?", named(or));
        Some(Check::new(CheckKind::AfterMidnight, About::Night, says))
    };
    if past > 0 {
        // Yesterday's count is welcome until today's is due.
        let closes = hours.iter().map(|(_, to)| *to).max();
        let midnight = small_hours
            .then(|| wall_time(here.date, NaiveTime::MIN, &given.store.zone, given.store.cut_off));
        let closed = closes.into_iter().chain(midnight).min();
        return if closed.is_some_and(|at| given.now >= at + grace) {
            ask(here.date)
        } else {
            None
        };
    }
    if small_hours {
        let says = format!("it is {wall}: this is the count of {sent}");
        let told = Check::new(CheckKind::AfterMidnight, About::Night, says);
        return Some(Check { treatment: Treatment::Flag, ..told });
    }
    // Before opening there is nothing to close: it may well be last night's.
    let opens = hours.iter().map(|(from, _)| *from).min();
    if opens.is_some_and(|at| given.now + grace < at) { ask(given.date.pred()) } else { None }
}

fn weekday(date: BusinessDate) -> &'static str {
    use crate::calendar::Weekday;
    match date.weekday() {
        Weekday::Mon => "Monday",
        Weekday::Tue => "Tuesday",
        Weekday::Wed => "Wednesday",
        Weekday::Thu => "Thursday",
        Weekday::Fri => "Friday",
        Weekday::Sat => "Saturday",
        Weekday::Sun => "Sunday",
    }
}

/// Both times are kept; the date is asked for.
fn device_clock(given: &Given<'_>) -> Option<Check> {
    let device = given.count.device_time?;
    let skew = (device - given.now).abs();
    (skew > TimeDelta::from(given.limits.clock_minutes)).then(|| {
        let zone = given.store.zone.tz();
        let wall = |at: DateTime<Utc>| at.with_timezone(&zone).format("%Y-%m-%d %H:%M").to_string();
        let says = format!(
            "the device's clock says {}, ours {}: is this the count of {} {}?",
            wall(device),
            wall(given.now),
            weekday(given.date),
            given.date
        );
        Check::new(CheckKind::DeviceClock, About::Night, says)
    })
}

/// Said, so that nobody wonders at 23 or 25 hours; nothing is doubted for it.
fn clock_change(given: &Given<'_>) -> Option<Check> {
    let (starts, ends) = day_bounds(given.date, &given.store.zone, given.store.cut_off);
    let hours = (ends - starts).num_minutes() as f64 / 60.0;
    (ends - starts != TimeDelta::hours(24)).then(|| {
        let says = format!("the clocks change: this business day has {hours} hours");
        Check::new(CheckKind::ClockChange, About::Night, says)
    })
}

/// How long the count took is by the device, where it lies in the day by our own clock: so a wrong
/// clock of the device does no harm.
fn sales_during_count(given: &Given<'_>) -> Option<Check> {
    let started = given.count.started_at?;
    let took = given.count.device_time.unwrap_or(given.now) - started;
    let (from, to) = (given.now.checked_sub_signed(took)?, given.now);
    let dayparts = given.catalog.dayparts_of(given.id, given.store);
    let mut until = from;
    let mut open = TimeDelta::zero();
    for (opens, closes) in trading(given.store, &dayparts, given.date) {
        let (opens, closes) = (opens.max(until), closes.min(to));
        if opens < closes {
            open += closes - opens;
            until = closes;
        }
    }
    (open > TimeDelta::from(given.limits.count_minutes)).then(|| {
        let says = format!(
            "{} minutes of counting while the store traded: count what sells fastest last",
            open.num_minutes()
        );
        Check::new(CheckKind::SalesDuringCount, About::Night, says)
    })
}

fn back_dated_edit(given: &Given<'_>) -> Option<Check> {
    let late = given.amends.is_some() && locked(given.store, given.date, given.now, given.limits);
    late.then(|| {
        let says = "this night is locked: say why, and somebody else decides";
        Check::new(CheckKind::BackDatedEdit, About::Night, says)
    })
}
