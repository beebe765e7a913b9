//! The nights below are those on which the zones' own laws change the clocks, as in the IANA time
//! zone database (from memory, and confirmed by the offsets written beside each wall time).

use super::*;
use crate::calendar::instant;
use chrono::TimeDelta;
use proptest::prelude::*;
use proptest::sample::select;

const ZONES: &[&str] = &[
    "Europe/Berlin",
    "America/New_York",
    "Australia/Lord_Howe",
    "Asia/Kathmandu",
    "America/Santiago",
    "America/Havana",
];

fn zone(name: &str) -> Zone {
    name.parse().expect(name)
}

fn cut_off(text: &str) -> CutOff {
    text.parse().expect(text)
}

fn date(text: &str) -> BusinessDate {
    text.parse().expect(text)
}

#[test]
fn business_dates_on_the_nights_when_clocks_change() {
    for (name, wall, booked) in [
        // Berlin, forward at 02:00 on 30 March 2025.
        ("Europe/Berlin", "2025-03-30T00:40:00+01:00", "2025-03-29"),
        ("Europe/Berlin", "2025-03-30T01:59:59+01:00", "2025-03-29"),
        ("Europe/Berlin", "2025-03-30T03:00:00+02:00", "2025-03-29"),
        ("Europe/Berlin", "2025-03-30T04:59:59+02:00", "2025-03-29"),
        ("Europe/Berlin", "2025-03-30T05:10:00+02:00", "2025-03-30"),
        // Berlin, back at 03:00 on 26 October 2025: 02:30 comes twice.
        ("Europe/Berlin", "2025-10-26T00:40:00+02:00", "2025-10-25"),
        ("Europe/Berlin", "2025-10-26T02:30:00+02:00", "2025-10-25"),
        ("Europe/Berlin", "2025-10-26T02:30:00+01:00", "2025-10-25"),
        ("Europe/Berlin", "2025-10-26T04:10:00+01:00", "2025-10-25"),
        ("Europe/Berlin", "2025-10-26T05:10:00+01:00", "2025-10-26"),
        // New York, forward at 02:00 on 9 March 2025.
        ("America/New_York", "2025-03-09T00:40:00-05:00", "2025-03-08"),
        ("America/New_York", "2025-03-09T03:00:00-04:00", "2025-03-08"),
        ("America/New_York", "2025-03-09T05:10:00-04:00", "2025-03-09"),
        // New York, back at 02:00 on 2 November 2025: 01:30 comes twice.
        ("America/New_York", "2025-11-02T00:40:00-04:00", "2025-11-01"),
        ("America/New_York", "2025-11-02T01:30:00-04:00", "2025-11-01"),
        ("America/New_York", "2025-11-02T01:30:00-05:00", "2025-11-01"),
        ("America/New_York", "2025-11-02T04:10:00-05:00", "2025-11-01"),
        ("America/New_York", "2025-11-02T05:10:00-05:00", "2025-11-02"),
        // Kathmandu is 5:45 ahead and never changes.
        ("Asia/Kathmandu", "2025-06-14T00:40:00+05:45", "2025-06-13"),
        ("Asia/Kathmandu", "2025-06-14T05:00:00+05:45", "2025-06-14"),
    ] {
        let at = DateTime::parse_from_rfc3339(wall).unwrap();
        let local = at.with_timezone(&zone(name).tz());
        assert_eq!(local.to_rfc3339(), wall, "{name} has that offset then");
        let found = business_date(at.to_utc(), &zone(name), CutOff::default());
        assert_eq!(found, date(booked), "{name} {wall}");
    }
}

#[test]
fn a_day_has_the_hours_its_clocks_give_it() {
    for (name, day, minutes) in [
        ("Europe/Berlin", "2025-03-28", 24 * 60),
        ("Europe/Berlin", "2025-03-29", 23 * 60),
        ("Europe/Berlin", "2025-03-30", 24 * 60),
        ("Europe/Berlin", "2025-10-25", 25 * 60),
        ("America/New_York", "2025-03-08", 23 * 60),
        ("America/New_York", "2025-11-01", 25 * 60),
        // Lord Howe moves by half an hour.
        ("Australia/Lord_Howe", "2025-04-05", 24 * 60 + 30),
        ("Australia/Lord_Howe", "2025-10-04", 23 * 60 + 30),
        // Santiago moves at midnight.
        ("America/Santiago", "2025-04-05", 25 * 60),
        ("America/Santiago", "2025-09-06", 23 * 60),
        ("Asia/Kathmandu", "2025-03-29", 24 * 60),
    ] {
        let (start, end) = day_bounds(date(day), &zone(name), CutOff::default());
        assert_eq!((end - start).num_minutes(), minutes, "{name} {day}");
    }
}

#[test]
fn a_skipped_cut_off_is_the_first_instant_after_the_gap() {
    for (name, day, cut, starts) in [
        ("Europe/Berlin", "2025-03-30", "02:30", "2025-03-30T03:00:00+02:00"),
        ("America/New_York", "2025-03-09", "02:00", "2025-03-09T03:00:00-04:00"),
        ("Australia/Lord_Howe", "2025-10-05", "02:15", "2025-10-05T02:30:00+11:00"),
        ("America/Santiago", "2025-09-07", "00:00", "2025-09-07T01:00:00-03:00"),
    ] {
        let (start, _) = day_bounds(date(day), &zone(name), cut_off(cut));
        assert_eq!(start, instant::parse(starts).unwrap(), "{name} {day} {cut}");
    }
}

#[test]
fn a_repeated_cut_off_is_its_first_coming() {
    let berlin = zone("Europe/Berlin");
    let half_past_two = cut_off("02:30");
    let (start, _) = day_bounds(date("2025-10-26"), &berlin, half_past_two);
    assert_eq!(start, instant::parse("2025-10-26T02:30:00+02:00").unwrap());
    let again = instant::parse("2025-10-26T02:10:00+01:00").unwrap();
    assert_eq!(business_date(again, &berlin, half_past_two), date("2025-10-25"));
}

#[test]
fn a_zone_is_known_by_its_name() {
    let json = "\"Europe/Berlin\"";
    let berlin: Zone = serde_json::from_str(json).unwrap();
    assert_eq!(serde_json::to_string(&berlin).unwrap(), json);
    for bad in ["\"Berlin\"", "\"\"", "\"GMT+25\"", "\"Europe/Atlantis\""] {
        let error = serde_json::from_str::<Zone>(bad).expect_err(bad).to_string();
        assert!(error.contains("use an IANA name"), "{error}");
    }
}

#[test]
fn the_ends_of_the_calendar_are_no_trap() {
    for end in [NaiveDate::MIN, NaiveDate::MAX] {
        for name in ZONES {
            let (start, end) = day_bounds(end.into(), &zone(name), CutOff::default());
            assert!(start <= end, "{name}");
        }
    }
}

prop_compose! {
    fn any_day()(days in 0_i64..20_000) -> BusinessDate {
        date("1990-01-01").plus_days(days)
    }
}

prop_compose! {
    fn any_cut_off()(minute in 0_u32..720) -> CutOff {
        cut_off(&format!("{:02}:{:02}", minute / 60, minute % 60))
    }
}

proptest! {
    #[test]
    fn a_day_starts_and_ends_where_its_date_does(
        name in select(ZONES), day in any_day(), cut in any_cut_off(),
    ) {
        let zone = zone(name);
        let (start, end) = day_bounds(day, &zone, cut);
        prop_assert!(start < end);
        prop_assert_eq!(business_date(start, &zone, cut), day);
        prop_assert_eq!(business_date(end - TimeDelta::nanoseconds(1), &zone, cut), day);
        prop_assert_eq!(day_bounds(day.succ(), &zone, cut).0, end);
        let minutes = (end - start).num_minutes();
        // Not only whole hours: a cut-off that is skipped moves to the end of the gap.
        prop_assert!((23 * 60..=25 * 60).contains(&minutes), "{minutes} minutes");
    }

    #[test]
    fn every_instant_is_in_the_day_of_its_date(
        name in select(ZONES), second in 631_152_000_i64..2_400_000_000,
    ) {
        // None of these zones ever skips or repeats the default cut-off, so the days tile time.
        let (zone, cut) = (zone(name), CutOff::default());
        let at = DateTime::from_timestamp(second, 0).unwrap();
        let (start, end) = day_bounds(business_date(at, &zone, cut), &zone, cut);
        prop_assert!(start <= at && at < end);
    }
}

#[test]
fn the_laws_hold_on_every_change_of_clocks() {
    // Every date of 2024 to 2026 and every quarter of an hour as cut-off: no change is left out.
    for name in ZONES {
        let zone = zone(name);
        for quarter in 0..48 {
            let cut = cut_off(&format!("{:02}:{:02}", quarter / 4, quarter % 4 * 15));
            for days in 0..1096 {
                let day = date("2024-01-01").plus_days(days);
                let (start, end) = day_bounds(day, &zone, cut);
                assert_eq!(business_date(start, &zone, cut), day, "{name} {day} {cut}");
                let last = end - TimeDelta::nanoseconds(1);
                assert_eq!(business_date(last, &zone, cut), day, "{name} {day} {cut}");
            }
        }
    }
}
