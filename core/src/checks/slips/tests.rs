//! When another reading is likelier than what was typed. The limits are the common ones: doubted
//! beyond 4 spreads, fitting within 3 or 8 %, at least twice as near. The numbers are invented.

use serde_json::{Value, json};

use super::*;
use crate::catalog::{Catalog, Spreads, Typed};

fn about(about: f64, spread: impl Into<Option<f64>>) -> Option<Expected> {
    Some(Expected { about, spread: spread.into() })
}

fn line(value: &str, unit: &str, pan: Value) -> CountLine {
    serde_json::from_value(json!({ "item": "rice", "place": "dry", "pan": pan,
        "quantity": { "value": value, "unit": unit } }))
    .unwrap()
}

fn other(kind: CheckKind, amount: f64) -> Other {
    let quantity: Typed = serde_json::from_value(json!({ "value": "1", "unit": "kg" })).unwrap();
    Other { kind, quantity, says: String::new(), amount }
}

/// A shelf that was counted ten times in one unit, and never in a pan.
fn habit(unit: &str) -> ShelfPast {
    ShelfPast {
        units: [(unit.to_owned(), 10)].into(),
        pans: [(None, 10)].into(),
        ..ShelfPast::default()
    }
}

struct Doubt<'a>(Witnesses<'a>);

impl Doubt<'_> {
    fn of(balance: Option<Expected>, shelf: Option<Expected>) -> Self {
        Self(Witnesses { balance, shelf, habit: None })
    }

    fn read_as(&self, kind: CheckKind, typed: f64, read: f64) -> Option<f64> {
        self.within(&Limits::default(), kind, typed, read)
    }

    fn within(&self, limits: &Limits, kind: CheckKind, typed: f64, read: f64) -> Option<f64> {
        self.0.fit(&line("1", "lb", Value::Null), typed, &other(kind, read), limits)
    }
}

#[track_caller]
fn near(found: Option<f64>, off: f64) {
    assert!(found.is_some_and(|found| (found - off).abs() < 1e-9), "{found:?} is not {off}");
}

#[test]
fn a_reading_fits_and_what_was_typed_does_not() {
    let stock = Doubt::of(about(1000.0, 100.0), None);
    let unit = |typed, read| stock.read_as(CheckKind::UnitSlip, typed, read);
    // Doubted beyond four spreads.
    near(unit(1401.0, 1000.0), 0.0);
    assert_eq!(unit(1400.0, 1000.0), None);
    // At least twice as near.
    near(unit(1500.0, 1249.0), 2.49);
    assert_eq!(unit(1500.0, 1250.0), None);
    // Within three spreads.
    near(unit(2000.0, 1300.0), 3.0);
    near(unit(2000.0, 700.0), 3.0);
    assert_eq!(unit(2000.0, 1301.0), None);
    // Or within 8 %, where the spread is small.
    let steady = Doubt::of(about(1000.0, 10.0), None);
    near(steady.read_as(CheckKind::UnitSlip, 2000.0, 1080.0), 8.0);
    assert_eq!(steady.read_as(CheckKind::UnitSlip, 2000.0, 1081.0), None);
}

/// Of a pan of 930 g 8 % are 74.4 g, of one of 925 g 74.
#[test]
fn the_excess_is_compared_with_the_pan() {
    let steady = Doubt::of(about(1000.0, 10.0), None);
    near(steady.read_as(CheckKind::TareForgotten, 2000.0, 1070.0), 7.0);
    assert_eq!(steady.read_as(CheckKind::TareForgotten, 2000.0, 1075.0), None);
    assert_eq!(steady.read_as(CheckKind::TareForgotten, 2000.0, 1090.0), None);
}

#[test]
fn a_point_does_not_explain_a_line_that_should_not_be_there() {
    let little = Doubt::of(about(120.0, 100.0), None);
    near(little.read_as(CheckKind::DecimalSlip, 1000.0, 100.0), 0.2);
    assert_eq!(little.read_as(CheckKind::DecimalSlip, 1000.0, 99.0), None);
    near(little.read_as(CheckKind::UnitSlip, 1000.0, 99.0), 0.21);
}

#[test]
fn what_departs_from_the_shelfs_habit_is_doubted_at_half_the_distance() {
    let kilograms = habit("kg");
    let stock =
        |habit| Doubt(Witnesses { balance: about(1000.0, 100.0), shelf: None, habit: Some(habit) });
    let unit = |typed, read| stock(&kilograms).read_as(CheckKind::UnitSlip, typed, read);
    near(unit(1201.0, 1000.0), 0.0);
    assert_eq!(unit(1200.0, 1000.0), None);
    // It need not be twice as near, only nearer.
    near(unit(1250.0, 1200.0), 2.0);
    assert_eq!(unit(1250.0, 750.0), None);
    // Nor fit within three spreads, if it is twice as near.
    near(unit(2000.0, 1400.0), 4.0);
    assert_eq!(unit(2000.0, 1500.0), None);
    // A reading that departs from the habit as well speaks for nothing.
    let grams = habit("g");
    assert_eq!(stock(&grams).read_as(CheckKind::UnitSlip, 1201.0, 1000.0), None);
    assert_eq!(stock(&grams).read_as(CheckKind::UnitSlip, 2000.0, 1400.0), None);
}

#[test]
fn a_shelf_is_a_witness_of_its_own() {
    let shelf = Doubt::of(None, about(1000.0, 100.0));
    let unit = |typed, read| shelf.read_as(CheckKind::UnitSlip, typed, read);
    near(unit(1401.0, 1000.0), 0.0);
    // Both distances together: the shelf's stands for the balance that is missing.
    near(unit(1401.0, 1100.0), 2.0_f64.sqrt());
    assert_eq!(unit(1280.0, 1000.0), None);
    assert_eq!(Doubt::of(None, None).read_as(CheckKind::UnitSlip, 9000.0, 1000.0), None);
}

#[test]
fn two_witnesses_doubt_together_what_each_lets_pass() {
    let both = |on_shelf| Doubt::of(about(1000.0, 100.0), on_shelf);
    let unit = |shelf, typed, read| both(shelf).read_as(CheckKind::UnitSlip, typed, read);
    // 3.8 and 1.9 spreads are 4.25 together; 3.4 and 1.7 are 3.8.
    near(unit(about(1000.0, 200.0), 1380.0, 1100.0), 1.0_f64.hypot(0.5));
    assert_eq!(unit(about(1000.0, 200.0), 1340.0, 1000.0), None);
    // The shelf must prefer the reading: this one lies as far from it, on the other side.
    assert_eq!(unit(about(1240.0, 50.0), 1380.0, 1100.0), None);
    assert_eq!(unit(about(2000.0, 200.0), 1300.0, 1000.0), None);
    // Three and four spreads are five together, and five are not more than five.
    let limits = Limits { spreads: Spreads(5.into()), ..Limits::default() };
    let together =
        |typed| both(about(900.0, 100.0)).within(&limits, CheckKind::UnitSlip, typed, 1000.0);
    assert_eq!(together(1300.0), None);
    near(together(1301.0), 1.0);
}

#[test]
fn packs_are_told_by_their_ratio_while_no_spread_is_known() {
    let young = Doubt::of(about(1000.0, None), None);
    let pack = |typed, read| young.read_as(CheckKind::PackSlip, typed, read);
    near(pack(2000.0, 1050.0), 0.05);
    near(pack(2000.0, 920.0), 0.08);
    near(pack(1081.0, 1000.0), 0.0);
    assert_eq!(pack(1080.0, 1000.0), None);
    assert_eq!(pack(2000.0, 1081.0), None);
    assert_eq!(young.read_as(CheckKind::UnitSlip, 2000.0, 1000.0), None);
    for nothing in [0.0, -1000.0] {
        let empty = Doubt::of(about(nothing, None), None);
        assert_eq!(empty.read_as(CheckKind::PackSlip, 2000.0, nothing), None);
    }
    let shelf = Doubt::of(about(1000.0, None), about(1000.0, 100.0));
    assert_eq!(shelf.read_as(CheckKind::UnitSlip, 2000.0, 1000.0), None);
}

/// Rice in sacks of 10 kg and cups of 200 g; three tubs.
fn catalog() -> Catalog {
    let pan = |code: &str, grams: &str| json!({ "code": code, "title": code, "tare": { "value": grams, "unit": "g" } });
    let pack = |code: &str, value: &str, unit: &str| json!({ "code": code, "title": code, "holds": { "value": value, "unit": unit } });
    let rice = json!({ "title": "Rice", "group": "food", "base": "mass",
        "rhythm": { "every": "night" }, "shelves": [{ "place": "dry", "unit": "kg" }],
        "packs": [pack("cup", "200", "g"), pack("sack", "10", "kg"), pack("box", "11.5", "kg")],
        "pans": [pan("full", "500"), pan("half", "300")] });
    let mut catalog = Catalog::default();
    catalog.put("rice", crate::catalog::Kind::Item.read(&rice).unwrap()).unwrap();
    catalog
}

/// Every other reading of a line, as typed.
fn readings(line: &CountLine, apart: f64) -> Vec<String> {
    let catalog = catalog();
    let item = &catalog.items[&line.item];
    let found = others(&catalog, item, line, apart);
    found.iter().map(|other| format!("{} {}", other.kind.word(), other.quantity)).collect()
}

/// A readings' list, but those of the point.
fn but_points(line: &CountLine, apart: f64) -> Vec<String> {
    readings(line, apart).into_iter().filter(|says| !says.starts_with("decimal")).collect()
}

#[test]
fn every_other_reading_of_a_line() {
    assert_eq!(
        readings(&line("2", "kg", Value::Null), 0.16),
        [
            "unit_slip 2 lb",
            "pack_slip 2 g",
            "pack_slip 2 box",
            "pack_slip 2 cup",
            "pack_slip 2 sack",
            "decimal_slip 20 kg",
            "decimal_slip 200 kg",
            "decimal_slip 0.2 kg",
            "decimal_slip 0.02 kg",
            "tare_forgotten 1.5 kg",
            "tare_forgotten 1.7 kg",
        ]
    );
    assert!(readings(&line("0", "kg", Value::Null), 0.16).is_empty());
}

/// Of what stands in a named pan its weight is off already; a pan as heavy as what was weighed
/// leaves nothing, and a lighter one is told by its difference, whatever the ratio.
#[test]
fn a_tare_is_a_difference() {
    let tares = |line: &CountLine| -> Vec<String> {
        readings(line, 0.16).into_iter().filter(|says| says.starts_with("tare")).collect()
    };
    assert_eq!(tares(&line("2000", "g", Value::Null)).len(), 2);
    assert!(tares(&line("2000", "g", json!("full"))).is_empty());
    assert_eq!(tares(&line("500", "g", Value::Null)), ["tare_forgotten 200 g"]);
    let full = tares(&line("50", "kg", Value::Null));
    assert_eq!(full, ["tare_forgotten 49.5 kg", "tare_forgotten 49.7 kg"]);
    assert!(tares(&line("2", "sack", Value::Null)).is_empty());
}

/// A box holds 15 % more than a sack: nobody could tell them apart at 16 %, either way.
#[test]
fn readings_that_come_to_about_the_same_are_none() {
    let sacks = line("2", "sack", Value::Null);
    let boxes = line("2", "box", Value::Null);
    let held = ["pack_slip 2 g", "pack_slip 2 kg"];
    assert_eq!(but_points(&sacks, 0.16), [held[0], held[1], "pack_slip 2 cup"]);
    assert_eq!(but_points(&boxes, 0.16), [held[0], held[1], "pack_slip 2 cup"]);
    assert!(but_points(&sacks, 0.1).contains(&"pack_slip 2 box".to_owned()));
    assert!(but_points(&boxes, 0.1).contains(&"pack_slip 2 sack".to_owned()));
}

/// Half a sack and a quarter are counted, a tenth is not; a weight has every decimal.
#[test]
fn a_tenth_of_a_pack_is_nobodys_reading() {
    let points = |value: &str, unit: &str| -> Vec<String> {
        let all = readings(&line(value, unit, Value::Null), 0.16);
        all.into_iter()
            .filter_map(|says| Some(says.strip_prefix("decimal_slip ")?.into()))
            .collect()
    };
    assert_eq!(points("5", "sack"), ["50 sack", "500 sack", "0.5 sack"]);
    assert_eq!(points("25", "sack"), ["250 sack", "2500 sack", "2.5 sack", "0.25 sack"]);
    assert_eq!(points("3", "sack"), ["30 sack", "300 sack"]);
    assert_eq!(points("3", "kg"), ["30 kg", "300 kg", "0.3 kg", "0.03 kg"]);
}

/// A number of packs was not weighed in a pan; a number in another unit was.
#[test]
fn a_pan_stays_with_what_was_weighed() {
    let line = line("2", "kg", json!("full"));
    let quantity = |unit: &str| -> Typed {
        serde_json::from_value(json!({ "value": "2", "unit": unit })).unwrap()
    };
    let pan = |unit: &str, kind| reread(&line, &quantity(unit), kind).pan.is_some();
    assert!(!pan("sack", CheckKind::PackSlip));
    assert!(
        pan("g", CheckKind::PackSlip)
            && pan("lb", CheckKind::UnitSlip)
            && pan("sack", CheckKind::UnitSlip)
    );
}

#[test]
fn the_grain_of_the_scale_is_in_the_items_own_unit() {
    let item = |base: &str, bridge: Value| {
        let body = json!({ "title": "Oil", "group": "food", "base": base, "bridge": bridge,
            "rhythm": { "every": "night" }, "shelves": [{ "place": "dry", "unit": "kg" }] });
        let crate::catalog::Document::Item(item) = crate::catalog::Kind::Item.read(&body).unwrap()
        else {
            panic!("an item")
        };
        grain(&item, &Limits::default())
    };
    // 5 g of oil of 0.8 kg a litre are 6.25 ml; pieces are not weighed.
    assert!((item("mass", json!({})) - 5.0).abs() < 1e-9);
    assert!((item("volume", json!({ "density": "0.8" })) - 6.25).abs() < 1e-9);
    assert!(item("count", json!({})).abs() < 1e-9);
}
