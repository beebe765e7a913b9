use chrono::TimeDelta;

use super::*;

fn said(scene: &Scene, kind: CheckKind) -> Option<(Treatment, String)> {
    scene.found(kind).first().map(|check| (check.treatment, check.says.clone()))
}

/// The dates of a count that is sent at an instant.
fn sent(now: &str, date: &str) -> Vec<(&'static str, Treatment)> {
    let scene = Scene { now: at(now), date: super::date(date), ..Scene::new(&[]) };
    let dates = [CheckKind::FutureDate, CheckKind::OldDate, CheckKind::AfterMidnight];
    let found = dates.into_iter().flat_map(|kind| scene.found(kind));
    found.map(|check| (check.kind.word(), check.treatment)).collect()
}

/// Friday's count at 22:40, at 00:40 and at 05:10 on Saturday; the cut-off is 05:00.
#[test]
fn before_the_cut_off_it_is_the_day_before() {
    assert!(sent("2025-06-13T20:40:00Z", "2025-06-13").is_empty());
    // Shown large, and asked when another date is chosen.
    assert_eq!(sent("2025-06-13T22:40:00Z", "2025-06-13"), [("after_midnight", Treatment::Flag)]);
    assert_eq!(
        sent("2025-06-13T22:40:00Z", "2025-06-12"),
        [("after_midnight", Treatment::Confirm)]
    );
    // The calendar says Saturday, which has not begun.
    assert_eq!(sent("2025-06-13T22:40:00Z", "2025-06-14"), [("future_date", Treatment::Reject)]);
    assert!(sent("2025-06-14T03:10:00Z", "2025-06-13").is_empty());
    let scene = Scene { now: at("2025-06-13T22:40:00Z"), ..Scene::new(&[]) };
    let words = said(&scene, CheckKind::AfterMidnight).unwrap().1;
    assert_eq!(words, "it is 00:40: this is the count of Friday 2025-06-13");
}

/// At 05:10 a count of the day that has only just begun is as likely the night before's.
#[test]
fn before_opening_there_is_nothing_to_close() {
    assert_eq!(
        sent("2025-06-14T03:10:00Z", "2025-06-14"),
        [("after_midnight", Treatment::Confirm)]
    );
    assert!(sent("2025-06-14T10:00:00Z", "2025-06-14").is_empty());
}

/// Yesterday is never asked about until the next close; more than a day past is; an amendment says
/// its reason anyway.
#[test]
fn an_old_date_is_asked_about() {
    assert!(sent("2025-06-13T19:00:00Z", "2025-06-12").is_empty());
    assert_eq!(
        sent("2025-06-13T20:40:00Z", "2025-06-12"),
        [("after_midnight", Treatment::Confirm)]
    );
    assert_eq!(sent("2025-06-13T19:00:00Z", "2025-06-11"), [("old_date", Treatment::Confirm)]);
    let scene = Scene { date: date("2025-06-11"), ..Scene::new(&[]) };
    let amends = Some(at("2025-06-11T20:40:00Z"));
    let given = Given { amends, ..scene.given() };
    assert!(of(&given, CheckKind::OldDate).is_empty());
}

/// The lock: 72 hours after the cut-off of Saturday, 05:00 (03:00 UTC).
#[test]
fn after_the_lock_a_change_needs_somebody_else() {
    let scene = |now| Scene { now: at(now), ..Scene::new(&[]) };
    let amends = Some(at("2025-06-13T20:40:00Z"));
    let edit =
        |scene: &Scene, amends| of(&Given { amends, ..scene.given() }, CheckKind::BackDatedEdit);
    assert!(edit(&scene("2025-06-17T02:59:59Z"), amends).is_empty());
    let late = scene("2025-06-17T03:00:00Z");
    assert_eq!(edit(&late, amends)[0].treatment, Treatment::Confirm);
    // A first count that is late is old, and changes nothing.
    assert!(edit(&late, None).is_empty());
    let ford = &late.catalog.stores[&late.id];
    assert!(locked(ford, late.date, late.now, &late.limits));
}

/// Five minutes of difference are allowed. Both times stand in the question.
#[test]
fn a_device_whose_clock_is_off() {
    let scene = |device| {
        let mut scene = Scene::new(&[]);
        scene.count.device_time = Some(at(device));
        scene
    };
    assert_eq!(said(&scene("2025-06-13T20:35:00Z"), CheckKind::DeviceClock), None);
    let (treatment, says) = said(&scene("2025-06-13T20:34:59Z"), CheckKind::DeviceClock).unwrap();
    assert_eq!(treatment, Treatment::Confirm);
    assert!(says.contains("22:34") && says.contains("22:40") && says.contains("Friday"), "{says}");
}

/// Twenty minutes of counting while the store trades, to 22:00 by its clock.
#[test]
fn a_long_count_while_the_store_trades() {
    let scene = |started: &str, sent: &str| {
        let mut scene = Scene { now: at(sent), ..Scene::new(&[]) };
        scene.count.started_at = Some(at(started));
        scene.count.device_time = Some(at(sent));
        scene
    };
    let found = |started, sent| said(&scene(started, sent), CheckKind::SalesDuringCount);
    assert_eq!(found("2025-06-13T19:40:00Z", "2025-06-13T20:40:00Z"), None);
    let (treatment, says) = found("2025-06-13T19:39:00Z", "2025-06-13T20:40:00Z").unwrap();
    assert_eq!(treatment, Treatment::Flag);
    assert!(says.starts_with("21 minutes"), "{says}");
    // After close it may take as long as it takes.
    assert_eq!(found("2025-06-13T20:00:00Z", "2025-06-13T23:40:00Z"), None);
    // A device an hour ahead does not make it evening any sooner.
    let mut ahead = scene("2025-06-13T20:39:00Z", "2025-06-13T20:40:00Z");
    ahead.count.device_time = Some(at("2025-06-13T21:40:00Z"));
    assert!(said(&ahead, CheckKind::SalesDuringCount).unwrap().1.starts_with("21 minutes"));
}

/// Both changes of the clocks, in two zones: said, and nothing is doubted for it. Dates of the
/// changes of 2025 from the IANA time zone database (from memory).
#[test]
fn nights_on_which_the_clocks_change() {
    for (zone, spring, autumn) in [
        ("Europe/Berlin", "2025-03-29", "2025-10-25"),
        ("America/New_York", "2025-03-08", "2025-11-01"),
    ] {
        for (night, hours) in [(spring, 23), (autumn, 25)] {
            let mut scene = Scene { date: date(night), ..Scene::new(&[]) };
            let id = scene.id.clone();
            scene.catalog.stores.get_mut(&id).unwrap().zone = zone.parse().unwrap();
            let ford = &scene.catalog.stores[&id];
            let closes = trading(ford, &[], scene.date)[0].1;
            // The device sends when it counts, 40 minutes after close.
            scene.now = closes + TimeDelta::minutes(40);
            scene.count.device_time = Some(scene.now);
            scene.count.started_at = Some(closes);
            let given = Given { open_days: Some(100), ..scene.given() };
            let found = super::night(&given);
            assert_eq!(kinds(&found), ["clock_change", "partial_count"], "{zone} {night}");
            assert!(found[0].says.contains(&format!("{hours} hours")), "{}", found[0].says);
        }
    }
}

/// Dayparts stand for the hours where none are kept; the last one passes midnight here.
#[test]
fn trading_hours_and_the_next_opening() {
    let scene = Scene::new(&[]);
    let mut ford = scene.catalog.stores[&scene.id].clone();
    ford.hours = None;
    let dayparts: Vec<crate::catalog::Daypart> = serde_json::from_value(json!([
        { "code": "lunch", "title": "Lunch", "hours": { "from": "11:30", "to": "14:00" } },
        { "code": "late", "title": "Late", "hours": { "from": "18:00", "to": "01:00" } },
    ]))
    .unwrap();
    let spans = trading(&ford, &dayparts, scene.date);
    assert_eq!(spans[1], (at("2025-06-13T16:00:00Z"), at("2025-06-13T23:00:00Z")));
    // Saturday is followed by a Sunday on which Ford stays closed.
    let saturday = date("2025-06-14");
    assert_eq!(next_opening(&ford, &dayparts, saturday), at("2025-06-16T09:30:00Z"));
    assert_eq!(next_opening(&ford, &[], saturday), at("2025-06-16T03:00:00Z"));
    ford.open.clear();
    assert_eq!(next_opening(&ford, &dayparts, saturday), at("2025-06-15T03:00:00Z"));
}

/// The edges of a date: the very close of the trading day, its opening, the cut-off itself.
#[test]
fn the_moment_itself_counts() {
    // Friday closes at 22:00, which is 20:00 in UTC: from then on Thursday's count is asked about.
    assert!(sent("2025-06-13T19:59:59Z", "2025-06-12").is_empty());
    assert_eq!(
        sent("2025-06-13T20:00:00Z", "2025-06-12"),
        [("after_midnight", Treatment::Confirm)]
    );
    // Saturday opens at 11:00: from then on it may close.
    assert_eq!(
        sent("2025-06-14T08:59:59Z", "2025-06-14"),
        [("after_midnight", Treatment::Confirm)]
    );
    assert!(sent("2025-06-14T09:00:00Z", "2025-06-14").is_empty());
    // The cut-off is 05:00: until then Friday's count is told to be Friday's.
    assert_eq!(sent("2025-06-14T02:59:59Z", "2025-06-13"), [("after_midnight", Treatment::Flag)]);
    assert!(sent("2025-06-14T03:00:00Z", "2025-06-13").is_empty());
}

/// With two hours of grace yesterday is welcome until midnight, and tonight from 09:00 on.
#[test]
fn hours_of_grace_lie_outside_the_trading_day() {
    let asked = |now: &str, date: &str| {
        let limits = Limits { date_hours: crate::catalog::Hours(2), ..Limits::default() };
        let scene = Scene { now: at(now), date: super::date(date), limits, ..Scene::new(&[]) };
        !scene.found(CheckKind::AfterMidnight).is_empty()
    };
    assert!(!asked("2025-06-13T21:59:59Z", "2025-06-12"));
    assert!(asked("2025-06-13T22:00:00Z", "2025-06-12"));
    assert!(asked("2025-06-14T06:59:59Z", "2025-06-14"));
    assert!(!asked("2025-06-14T07:00:00Z", "2025-06-14"));
}
