//! Invented districts.

use super::*;

fn moved(district: &str, area: &str, lot: Option<(&str, f64)>, size: f64) -> Moved {
    Moved {
        district: district.parse().unwrap(),
        area: area.parse().unwrap(),
        measure: Measure::Yield,
        lot: lot.map(|(lot, share)| (lot.to_owned(), share)),
        since: BusinessDate::new(2026, 6, 2).unwrap(),
        size,
        range: Interval { low: size - 0.01, high: size + 0.01 },
        money_per_week: Some(1000.0 * size.abs()),
    }
}

fn names(of: &Together) -> Vec<&str> {
    of.districts.iter().map(|one| one.district.as_str()).collect()
}

/// Half of the nights are enough for a lot to be what districts have in common; those of less, or of
/// none, have their area in common. What costs most comes first.
#[test]
fn districts_are_grouped_by_lot_and_else_by_area() {
    let lower = Moved {
        since: BusinessDate::new(2026, 5, 30).unwrap(),
        ..moved("lower", "valley", Some(("L-1", 0.5)), -0.02)
    };
    let found = together(vec![
        lower,
        moved("coast", "shore", Some(("L-1", 0.49)), -0.001),
        moved("upper", "valley", Some(("L-1", 0.9)), -0.03),
        moved("port", "shore", None, -0.004),
        moved("hill", "valley", Some(("L-2", 0.9)), -0.2),
    ]);
    let told: Vec<_> = found.iter().map(|one| (one.common.clone(), names(one))).collect();
    let lot = |lot: &str| Common::Lot(lot.to_owned());
    assert_eq!(
        told,
        [
            (lot("L-2"), vec!["hill"]),
            (lot("L-1"), vec!["upper", "lower"]),
            (Common::Area("shore".parse().unwrap()), vec!["port", "coast"]),
        ]
    );
    assert_eq!(found[1].since, BusinessDate::new(2026, 5, 30).unwrap());
    assert_eq!(found[1].money_per_week, Some(50.0));
    // Another measure is another matter.
    let other = Moved { measure: Measure::Use, ..moved("upper", "valley", None, 0.03) };
    assert_eq!(together(vec![other, moved("lower", "valley", None, -0.03)]).len(), 2);
}

/// Two that are known equally well and differ by no more than that lie at their mean, and are known
/// √2 times as well as each. One alone is told as it is; without a price there is none.
#[test]
fn what_districts_share_is_pooled() {
    let pair = |low: f64, high: f64| {
        together(vec![moved("upper", "valley", None, low), moved("lower", "valley", None, high)])
            .remove(0)
    };
    let found = pair(-0.026, -0.024);
    let half = 0.01 / 2.0_f64.sqrt();
    assert!((found.size + 0.025).abs() < 1e-12, "{found:?}");
    assert!((found.range.low + 0.025 + half).abs() < 1e-12, "{found:?}");
    assert!((found.range.high + 0.025 - half).abs() < 1e-12, "{found:?}");
    assert_eq!(
        found.sentence(),
        "Since about 2026-06-02 batch yield has been lower in 2 districts of valley: by -2.5 points on \
         the whole, most likely from -3.2 to -1.8. No lot is known that they have in common; a \
         promotion, the weather or a delivery may be what they share."
    );
    let alone = together(vec![moved("upper", "valley", Some(("L-1", 1.0)), 0.02)]).remove(0);
    assert_eq!((alone.size, alone.range), (0.02, Interval { low: 0.01, high: 0.03 }));
    let says = "batch yield has been higher in 1 district that cooks mostly from lot L-1: by +2.0";
    assert!(alone.sentence().contains(says), "{}", alone.sentence());
    let unpriced = Moved { money_per_week: None, ..moved("upper", "valley", None, 0.02) };
    assert_eq!(together(vec![unpriced.clone()])[0].money_per_week, None);
    let one = together(vec![unpriced, moved("lower", "valley", None, 0.02)]).remove(0);
    assert_eq!((one.money_per_week, names(&one)), (Some(20.0), vec!["lower", "upper"]));
}
