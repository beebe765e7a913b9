//! What an item is measured by, and what is wrong with one by itself.

use super::*;
use crate::quantity::Base;

fn grams(text: &str) -> Base {
    Base::new(d(text))
}

#[test]
fn packs_hold_packs_and_pans_are_taken_off() {
    let (id, potato) = (item_id("potato"), item(&potato()));
    let measured = |value, unit| potato.measure(&id, &typed(value, unit));
    assert_eq!(measured("1.5", "bag"), Ok(grams("30000")));
    assert_eq!(measured("2", "pallet"), Ok(grams("1600000")));
    assert_eq!(
        measured("1", "sack").unwrap_err().to_string(),
        "potato has no pack \"sack\": it has bag, pallet"
    );
    let net = |value, pan: &str| potato.net_of_pan(&id, &typed(value, "kg"), &pan.parse().unwrap());
    assert_eq!(net("5", "deep"), Ok(grams("3800")));
    assert_eq!(net("5", "flat"), Ok(grams("4200")));
    // An empty pan weighs what it weighs, and nothing weighs less.
    assert_eq!(net("1.2", "deep"), Ok(Base::ZERO));
    assert!(matches!(net("1.19", "deep"), Err(MeasureError::UnderTare { .. })));
    assert!(matches!(net("5", "round"), Err(MeasureError::NoPan { .. })));
}

/// 4 kg of cut potatoes were 5 kg.
#[test]
fn a_stage_must_be_one_of_the_items() {
    let (id, potato) = (item_id("potato"), item(&potato()));
    let bought = |code: Option<&str>| {
        let code = code.map(stage);
        potato.as_purchased(&id, grams("4000"), code.as_ref())
    };
    assert_eq!(bought(Some("cut")), Ok(grams("5000")));
    assert_eq!(bought(None), Ok(grams("4000")));
    let no = MeasureError::NoStage { item: id.clone(), stage: stage("fry") };
    assert_eq!(bought(Some("fry")), Err(no.clone()));
    assert_eq!(potato.knows_stage(&id, Some(&stage("fry"))), Err(no));
    assert_eq!(potato.knows_stage(&id, Some(&stage("cut"))), Ok(()));
}

#[test]
fn a_unit_is_written_as_it_is_read() {
    for name in ["kg", "gal", "bag"] {
        let unit: UnitName = serde_json::from_value(json!(name)).unwrap();
        assert_eq!(serde_json::to_value(&unit).unwrap(), json!(name));
        assert_eq!(unit.to_string(), name);
    }
    let error = "no/pack".parse::<UnitName>().unwrap_err();
    assert_eq!(error.to_string(), "\"no/pack\" is neither a unit nor a pack");
}

#[test]
fn an_amount_is_from_nothing_to_ten_million_with_six_decimals() {
    let new = |value: &str| Typed::new(d(value), "kg".parse().unwrap());
    for sound in ["0", "-0", "0.000001", "1.0000000", "10000000"] {
        assert!(new(sound).is_ok(), "{sound}");
    }
    for bad in ["-0.1", "0.0000001", "10000000.1"] {
        assert_eq!(new(bad), Err(MeasureError::Value(d(bad))));
    }
}

#[test]
fn each_flaw_of_an_item_is_told_where_it_is() {
    let id = item_id("potato");
    assert!(item(&potato()).flaws(&id).is_empty());
    assert!(item(&dip()).flaws(&item_id("dip")).is_empty());
    let twice = "listed twice";
    for (at, value, flaws) in [
        ("/title", json!(" "), &[("/title", "a title is missing")][..]),
        ("/packs/1/code", json!("bag"), &[("/packs/1/code", twice)]),
        ("/packs/1/code", json!("kg"), &[("/packs/1/code", "\"kg\" is a standard unit")]),
        ("/packs/1/holds", amount("0", "kg"), &[("/packs/1/holds", "an empty pack")]),
        ("/packs/1/holds", amount("2", "pallet"), &[("/packs/1/holds", "has no pack")]),
        ("/packs/1/holds", amount("2", "l"), &[("/packs/1/holds", "density")]),
        ("/shelves/0/unit", json!("sack"), &[("/shelves/0/unit", "has no pack")]),
        ("/shelves/1/stage", json!("fry"), &[("/shelves/1/stage", "has no stage")]),
        (
            "/shelves/1",
            json!({ "place": "dry", "unit": "kg" }),
            &[("/shelves/1", "this place and stage are listed twice")],
        ),
        ("/shelves/1/place", json!("dry"), &[]),
        ("/shelves/0/place", json!("cold"), &[]),
        ("/shelves/0/stage", json!("cut"), &[]),
        ("/shelves", json!([]), &[("/shelves", "needs a place to count it")]),
        (
            "/rhythm",
            json!({ "every": "never" }),
            &[("/rhythm", "only an item that is made from others can go uncounted")],
        ),
        ("/pans/1/code", json!("deep"), &[("/pans/1/code", twice)]),
        ("/pans/1/tare", amount("1", "l"), &[("/pans/1/tare", "density")]),
        ("/count_error", amount("1", "l"), &[("/count_error", "density")]),
    ] {
        let found = item(&with(potato(), at, value.clone())).flaws(&id);
        let told = told(&found);
        let each = told
            .iter()
            .zip(flaws)
            .all(|(told, (at, says))| told.starts_with(&format!("{at}: ")) && told.contains(says));
        assert!(told.len() == flaws.len() && each, "{at} {value}: {told:?}");
    }
}

#[test]
fn a_preparation_makes_something_of_something() {
    for (at, value, told_as) in [
        ("/made_from/batch", amount("0", "kg"), "/made_from/batch: an empty batch"),
        ("/made_from/inputs", json!([]), "/made_from/inputs: nothing goes in"),
        ("/made_from/batch", amount("1", "tub"), "/made_from/batch: dip has no pack \"tub\""),
    ] {
        let found = item(&with(dip(), at, value)).flaws(&item_id("dip"));
        assert_eq!(told(&found), [told_as]);
    }
}

/// A bag that holds crates, which are listed after it, is told even though a crate is sound.
#[test]
fn a_pack_holds_only_what_stands_before_it() {
    let crates = with(potato(), "/packs/0/holds", amount("2", "pallet"));
    let crates = with(crates, "/packs/1/holds", amount("10", "kg"));
    let told = told(&item(&crates).flaws(&item_id("potato")));
    assert_eq!(told[0], "/packs/0/holds: potato has no pack \"pallet\"");
}
