//! What should stand there. Of figures that lie 0 or 200 to either side of their median the median
//! deviation is 200 and the spread 296.52: 1.4826 times as much (1 ÷ Φ⁻¹(¾), from memory).

use super::*;
use crate::checks::expect::{ShelfPast, closing, handled, shelf_key, shelves};
use crate::checks::slips::Other;

const SPREAD: f64 = 200.0 * 1.4826022;

fn past(nights: u64, variance: i64) -> PastUse {
    PastUse {
        nights,
        used: grams(18_000 + variance),
        made_into: grams(1_000),
        expected: Some(grams(17_000)),
    }
}

/// Twelve spans of so many nights, each using 300 g a night more than it should, or 200 to either
/// side of that a night's root.
fn unsteady(nights: u64, aside: i64) -> Vec<PastUse> {
    let usual = 300 * nights as i64;
    (0..12).map(|n| past(nights, usual + aside * (n % 3 - 1))).collect()
}

/// 40 kg opened, known to 500 g, 5 came, 22 should have been used.
fn ends(nights: u64) -> ItemSpan {
    ItemSpan { nights, ..one_night(40_000, 5_000, 22_000, 18_000) }
}

#[track_caller]
fn expects(past: Vec<PastUse>, ends: ItemSpan, grain: f64, about: f64, spread: Option<f64>) {
    let of = ItemPast { ends: Some(ends), past };
    let found = closing(&of, &Limits::default(), grain).unwrap();
    assert!((found.about - about).abs() < 1e-6, "about {}", found.about);
    match (found.spread, spread) {
        (Some(found), Some(spread)) => assert!((found - spread).abs() < 1e-3, "spread {found}"),
        (found, spread) => assert_eq!(found, spread),
    }
}

#[test]
fn what_should_stand_there_is_stock_less_expected_and_usual_use() {
    assert_eq!(handled(&ends(1)), grams(45_000));
    expects(unsteady(1, 200), ends(1), 5.0, 45_000.0 - 22_000.0 - 300.0, Some(SPREAD));
    // Over four nights four times the usual and twice the spread.
    expects(unsteady(1, 200), ends(4), 5.0, 45_000.0 - 22_000.0 - 1_200.0, Some(2.0 * SPREAD));
    // Spans of four nights say the same of one, alone and among others.
    let mixed = [unsteady(1, 200), unsteady(4, 400)].concat();
    expects(mixed, ends(1), 5.0, 45_000.0 - 22_000.0 - 300.0, Some(SPREAD));
    expects(unsteady(4, 400), ends(1), 5.0, 45_000.0 - 22_000.0 - 300.0, Some(SPREAD));
}

#[test]
fn ten_nights_are_enough_and_nine_are_not() {
    let first = |n| unsteady(1, 0)[..n].to_vec();
    expects(first(10), ends(1), 600.0, 45_000.0 - 22_000.0 - 300.0, Some(600.0));
    expects(first(9), ends(1), 600.0, 45_000.0 - 22_000.0, None);
    let unsold = ItemPast { ends: Some(ItemSpan { expected: None, ..ends(1) }), past: first(9) };
    assert!(closing(&unsold, &Limits::default(), 5.0).is_none());
    assert!(closing(&ItemPast { ends: None, past: first(10) }, &Limits::default(), 5.0).is_none());
}

/// A spread is never below what the scale shows, and where nights never differ not below what the
/// opening may be off.
#[test]
fn a_spread_is_no_finer_than_what_is_known() {
    let about = 45_000.0 - 22_000.0 - 300.0;
    expects(unsteady(1, 200), ends(1), 400.0, about, Some(400.0));
    expects(unsteady(1, 0), ends(1), 5.0, about, Some(500.0));
    expects(unsteady(1, 0), ends(1), 700.0, about, Some(700.0));
}

#[test]
fn without_sales_use_itself_is_the_figure() {
    let unsold = ItemSpan { expected: None, ..ends(1) };
    expects(unsteady(1, 200), unsold, 5.0, 45_000.0 - 18_300.0, Some(SPREAD));
}

#[test]
fn what_was_used_for_sales_and_preparations_was_due() {
    let one = past(1, 300);
    assert_eq!((one.due(), one.variance()), (Some(grams(18_000)), Some(grams(300))));
    let pending = PastUse { expected: None, ..one };
    assert_eq!((pending.due(), pending.variance()), (None, None));
}

/// Two lines of a shelf are one amount; units and pans are counted line by line.
#[test]
fn what_counts_before_say_of_a_shelf() {
    let night = |kg: &str| {
        let mut panned = line("potato", "cold-room", "5.2", "kg");
        panned["pan"] = json!("deep");
        count(&[line("potato", "cold-room", kg, "kg"), panned, line("salt", "attic", "1", "kg")])
    };
    let scene = Scene::new(&[]).after([night("3"), night("2")]);
    let all = shelves(&scene.given());
    assert_eq!(all.len(), 1);
    let shelf = &all[&shelf_key(&night("3").lines[0])];
    assert_eq!(shelf.amounts, [7_000.0, 6_000.0]);
    assert_eq!(shelf.units, [("kg".to_owned(), 4)].into());
    assert_eq!(shelf.pans, [(None, 2), (Some("deep".parse().unwrap()), 2)].into());
}

#[test]
fn what_usually_stands_on_a_shelf() {
    let shelf = |aside: f64, n: usize| ShelfPast {
        amounts: (0..n).map(|n| 3_000.0 + aside * ((n % 3) as f64 - 1.0)).collect(),
        ..ShelfPast::default()
    };
    let found = shelf(200.0, 12).expected(12, 5.0).unwrap();
    assert!((found.about - 3_000.0).abs() < 1e-6 && found.off(3_000.0) == Some(0.0));
    assert!((found.spread.unwrap() - SPREAD).abs() < 1e-3, "{found:?}");
    assert_eq!(shelf(200.0, 12).expected(12, 400.0).unwrap().off(3_800.0), Some(2.0));
    assert!(shelf(200.0, 12).expected(13, 5.0).is_none());
    // What never changes tells no spread.
    assert!(shelf(0.0, 12).expected(12, 5.0).is_none());
}

#[test]
fn a_shelfs_habit_is_its_units_and_its_pans() {
    let typed = |unit: &str, pan: Value| -> crate::night::CountLine {
        let mut one = line("potato", "cold-room", "5", unit);
        one["pan"] = pan;
        serde_json::from_value(one).unwrap()
    };
    let shelf = |unnamed: usize, named: usize| ShelfPast {
        units: [("kg".to_owned(), unnamed + named)].into(),
        pans: [(None, unnamed), (Some("deep".parse().unwrap()), named)].into(),
        ..ShelfPast::default()
    };
    let none = || Value::Null;
    let pounds = typed("lb", none());
    assert!(shelf(10, 0).departs(&pounds, 10) && !shelf(9, 0).departs(&pounds, 10));
    assert!(!shelf(10, 0).departs(&typed("kg", none()), 10));
    // Without the pan that is named four times of five, or more.
    assert!(shelf(2, 8).departs(&typed("kg", none()), 10));
    assert!(!shelf(3, 7).departs(&typed("kg", none()), 10));
    assert!(!shelf(2, 8).departs(&typed("kg", json!("deep")), 10));
    let read = |kind, unit: &str| {
        let quantity = typed(unit, none()).quantity;
        Other { kind, quantity, says: String::new(), amount: 1.0 }
    };
    let limits = Limits::default();
    let as_read = |line: &crate::night::CountLine, other: &Other| {
        shelf(10, 0).departs_as(line, other, &limits)
    };
    assert!(as_read(&typed("kg", none()), &read(CheckKind::UnitSlip, "lb")));
    assert!(!as_read(&pounds, &read(CheckKind::UnitSlip, "kg")));
    // That a pan was weighed as well departs only where one is named.
    assert!(!as_read(&pounds, &read(CheckKind::TareForgotten, "lb")));
    assert!(as_read(&typed("kg", json!("deep")), &read(CheckKind::TareForgotten, "kg")));
}
