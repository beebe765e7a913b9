//! Where stores stand, when they trade, how they are walked, and what their orders are held to.

use super::*;
use crate::calendar::{BusinessDate, instant};
use crate::ids::{FormatId, ReasonId, StoreId};
use crate::stats::Share;
use crate::tickets::Seconds;

fn ford_id() -> StoreId {
    "ford".parse().unwrap()
}

#[test]
fn where_a_store_stands() {
    let standing = catalog().standing(&ford_id()).unwrap();
    let places = (standing.district.as_str(), standing.region.as_str(), standing.owner.as_str());
    assert_eq!((standing.store, places), (ford_id(), ("upper", "valley", "brook")));
    let lost = and(Kind::Store, "ford", &with(ford(), "/district", json!("lower")));
    let missing = NotFound { kind: "districts", code: "lower".to_owned() };
    assert_eq!(lost.standing(&ford_id()), Err(missing));
    assert!(catalog().standing(&"weir".parse().unwrap()).is_err());
}

#[test]
fn only_a_reason_of_safety_is_for_safety() {
    let for_safety = |code: &str| catalog().is_for_safety(&code.parse::<ReasonId>().unwrap());
    assert!(for_safety("too-warm") && !for_safety("dropped") && !for_safety("unknown"));
}

/// The store's own walk comes first, the network's order after it.
#[test]
fn the_walk_of_a_store() {
    let walk = |own: Value| {
        let store = store(&with(ford(), "/walk", own));
        let all = catalog();
        all.walk(&store).into_iter().map(|place| place.to_string()).collect::<Vec<_>>()
    };
    assert_eq!(walk(json!([])), ["dry", "cold", "line"]);
    assert_eq!(walk(json!(["line"])), ["line", "dry", "cold"]);
    assert_eq!(walk(json!(["line", "cold"])), ["line", "cold", "dry"]);
}

#[test]
fn the_nearest_set_of_dayparts_counts() {
    let mut all = catalog();
    let first = |all: &Catalog| {
        let parts = all.dayparts_of(&ford_id(), &all.stores[&ford_id()]);
        parts.first().map(|part| part.code.to_string())
    };
    let put = |all: &mut Catalog, set: &str, of: Value| {
        all.put(set, read(Kind::Dayparts, &dayparts(of, set))).unwrap();
    };
    assert_eq!(first(&all).as_deref(), Some("midday"));
    // Sets of others change nothing, whatever their codes.
    put(&mut all, "a-drive", json!({ "of": "format", "code": "drive" }));
    put(&mut all, "a-weir", json!({ "of": "store", "code": "weir" }));
    assert_eq!(first(&all).as_deref(), Some("midday"));
    put(&mut all, "z-format", json!({ "of": "format", "code": "counter" }));
    assert_eq!(first(&all).as_deref(), Some("z-format"));
    put(&mut all, "z-own", json!({ "of": "store", "code": "ford" }));
    assert_eq!(first(&all).as_deref(), Some("z-own"));
    all.dayparts.clear();
    assert_eq!(first(&all), None);
}

#[test]
fn a_time_lies_in_the_daypart_that_has_begun() {
    let set = read(Kind::Dayparts, &dayparts(json!({ "of": "all" }), "midday"));
    let Document::Dayparts(set) = set else { panic!("a set of dayparts") };
    let at = |time: &str| set.at(time.parse().unwrap()).map(|part| part.code.to_string());
    assert_eq!(at("10:59:59"), None);
    assert_eq!(at("11:00:00").as_deref(), Some("midday"));
    assert_eq!(at("15:00:00").as_deref(), Some("evening"));
    assert_eq!(at("22:00:00"), None);
}

#[test]
fn the_target_of_a_format_counts_before_that_of_all() {
    let channel = |targets: Value| {
        let channel = read(Kind::Channel, &json!({ "title": "Counter", "targets": targets }));
        let Document::Channel(channel) = channel else { panic!("a channel") };
        channel.target(&"counter".parse::<FormatId>().unwrap())
    };
    let of = |format: &str, seconds| json!({ "format": format, "seconds": seconds });
    let all = json!({ "seconds": 300 });
    let counter = of("counter", 420);
    assert_eq!(channel(json!([all, of("drive", 240), counter])), Some(Seconds(420)));
    assert_eq!(channel(json!([of("drive", 240), all])), Some(Seconds(300)));
    assert_eq!(channel(json!([of("drive", 240)])), None);
}

/// Eleven hours are usual: 70 % of them are 7.7, which is 11:00 to 18:42 and not a minute less.
#[test]
fn a_day_is_short_below_a_share_of_its_usual_hours() {
    let ford = store(&ford());
    let short = |date: &str| ford.is_short(date.parse().unwrap(), Share::per_mille(700));
    assert!(short("2025-12-24") && !short("2025-12-31") && !short("2025-12-30"));
    // 2025-12-28 was a Sunday: closed, so no hours and not short.
    assert!(!short("2025-12-28"));
    assert_eq!(ford.hours_on("2025-12-28".parse().unwrap()), None);
    let hours = |date: &str| ford.hours_on(date.parse().unwrap()).unwrap().minutes();
    assert_eq!((hours("2025-12-24"), hours("2025-12-30")), (300, 660));
}

/// Ford over June: brook's in upper, sold on the 8th, retired on the 12th and back on the 15th, moved to
/// lower on the 20th; all invented. By its clock a day begins at five in Berlin.
fn ford_over_june() -> StoreTimeline {
    let said = |from, district: &str, owner: &str| {
        let mut store = catalog().stores[&ford_id()].clone();
        (store.district, store.owner) = (district.parse().unwrap(), owner.parse().unwrap());
        (day(from), Some(store))
    };
    let versions = vec![
        said(1, "upper", "brook"),
        said(4, "upper", "brook"),
        said(8, "upper", "hill"),
        (day(12), None),
        said(15, "upper", "hill"),
        said(20, "lower", "hill"),
    ];
    StoreTimeline { store: ford_id(), versions: Timeline(versions) }
}

fn day(day: u32) -> BusinessDate {
    BusinessDate::new(2026, 6, day).unwrap()
}

#[test]
fn a_store_has_been_where_it_is_since_it_was_last_sold_or_moved() {
    let ford = ford_over_june();
    let since = [7, 8, 13, 19, 20, 30].map(|on| ford.settled(day(on)));
    // Other prices on the 4th and being shut from the 12th to the 15th are no move.
    assert_eq!(since, [1, 8, 8, 8, 20, 20].map(|from| Some(day(from))));
    assert_eq!(ford.settled(day(1).pred()), None);
}

#[test]
fn a_store_leaves_when_the_day_of_its_move_begins_by_its_own_clock() {
    let ford = ford_over_june();
    let at = |text| instant::parse(text).unwrap();
    let left = |place: [&str; 2], since, now| {
        ford.left((&place[0].parse().unwrap(), &place[1].parse().unwrap()), day(since), at(now))
    };
    let (brook, hill, lower) = (["upper", "brook"], ["upper", "hill"], ["lower", "hill"]);
    assert_eq!(left(brook, 3, "2026-06-08T04:59:59+02:00"), None);
    assert_eq!(left(brook, 3, "2026-06-08T05:00:00+02:00"), Some(day(8)));
    // It stays so, wherever the store goes afterwards.
    assert_eq!(left(brook, 3, "2026-07-01T12:00:00+02:00"), Some(day(8)));
    assert_eq!(left(hill, 9, "2026-06-12T05:00:00+02:00"), Some(day(12)));
    assert_eq!(left(hill, 16, "2026-06-30T12:00:00+02:00"), Some(day(20)));
    assert_eq!(left(lower, 21, "2026-06-30T12:00:00+02:00"), None);
    // Head office learns later that it was somewhere else by then.
    assert_eq!(left(brook, 9, "2026-06-30T12:00:00+02:00"), Some(day(9)));
}

#[test]
fn open_days_are_counted_since_a_store_was_first_on_record() {
    let ford = ford_over_june();
    // Retired from the 12th to the 14th, and shut on Sundays.
    let open = |on: u32| u32::from(ford.is_open(day(on)));
    let by = |last: u32| (1..=last).map(open).sum::<u32>();
    assert!(by(30) > by(7) && by(7) > 0 && by(14) == by(11));
    for last in [1, 7, 14, 30] {
        assert_eq!(ford.open_days(day(last), 100), Some(by(last)), "up to {last} June");
    }
    assert_eq!(ford.open_days(day(30), 5), Some(5), "no more than are asked for");
    assert_eq!(ford.open_days(day(1).pred(), 100), Some(0), "before it was on record");
    let nobody = StoreTimeline { store: ford_id(), versions: Timeline(Vec::new()) };
    assert_eq!(nobody.open_days(day(30), 100), None);
}
