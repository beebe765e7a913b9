//! What documents name, and what is wrong when that is not in force.

use super::*;

#[test]
fn what_each_document_names() {
    let names = |kind: Kind, code: &str, body: &Value| {
        let named = read(kind, body).names(code);
        named.iter().map(|(kind, code)| format!("{}/{code}", kind.word())).collect::<Vec<_>>()
    };
    let of_set = |of| names(Kind::Dayparts, "set", &dayparts(of, "midday"));
    let channel = json!({ "title": "Window", "targets": [
        { "seconds": 300 }, { "format": "drive", "seconds": 240 },
        { "format": "counter", "seconds": 420 }] });
    for (found, expected) in [
        (
            names(Kind::Store, "ford", &ford()),
            &["districts/upper", "owners/brook", "formats/counter", "places/line"][..],
        ),
        (of_set(json!({ "of": "all" })), &[]),
        (of_set(json!({ "of": "format", "code": "counter" })), &["formats/counter"]),
        (of_set(json!({ "of": "store", "code": "ford" })), &["stores/ford"]),
        (names(Kind::Channel, "window", &channel), &["formats/counter", "formats/drive"]),
        (names(Kind::Item, "potato", &potato()), &["places/cold", "places/dry"]),
        (names(Kind::Item, "dip", &dip()), &["items/herbs", "items/yoghurt"]),
        (names(Kind::Price, "dip", &per_kg("1")), &["items/dip"]),
        // Both sizes of fries name potatoes: once is enough.
        (names(Kind::Product, "fries", &fries()), &["items/potato"]),
        (names(Kind::Product, "meal", &meal()), &["items/dip", "products/fries"]),
        (names(Kind::Addition, "more-dip", &extra()), &["items/dip"]),
        (names(Kind::Region, "valley", &json!({ "title": "Valley" })), &[]),
    ] {
        assert_eq!(found, expected);
    }
}

#[test]
fn what_is_named_must_be_in_force() {
    let district = json!({ "title": "Upper valley", "region": "valley" });
    let none = |code: &str, kind: Kind| format!("there is no \"{code}\" under {}", kind.word());
    for (kind, code, body, at, of) in [
        (Kind::District, "upper", district, "/region", Kind::Region),
        (Kind::Store, "ford", ford(), "/district", Kind::District),
        (Kind::Store, "ford", ford(), "/owner", Kind::Owner),
        (Kind::Store, "ford", ford(), "/format", Kind::Format),
        (Kind::Store, "ford", ford(), "/walk/0", Kind::Place),
        (Kind::Item, "potato", potato(), "/shelves/1/place", Kind::Place),
    ] {
        let document = read(kind, &with(body, at, json!("nowhere")));
        let flaws = catalog().flaws(code, &document);
        assert_eq!(told(&flaws), [format!("{at}: {}", none("nowhere", of))]);
    }
}

#[track_caller]
fn check(kind: Kind, code: &str, body: &Value, expected: &[(&str, &str)]) {
    let told = told(&catalog().flaws(code, &read(kind, body)));
    let each = told
        .iter()
        .zip(expected)
        .all(|(told, (at, says))| told.starts_with(&format!("{at}: ")) && told.contains(says));
    assert!(told.len() == expected.len() && each, "{told:?}");
}

#[test]
fn a_recipe_that_cannot_be_worked_out() {
    let line = "/sizes/0/lines/0";
    let salt = with(fries(), "/sizes/0/lines/0/item", json!("salt"));
    check(Kind::Product, "fries", &salt, &[(line, "salt")]);
    let stage = with(fries(), "/sizes/0/lines/0/stage", json!("fry"));
    check(Kind::Product, "fries", &stage, &[(line, "potato has no stage \"fry\"")]);
    let part = with(meal(), "/sizes/0/parts/0/size", json!("two"));
    check(Kind::Product, "meal", &part, &[("/sizes/0/parts", "there is no \"fries/two\"")]);
    let itself = with(meal(), "/sizes/0/parts/0/product", json!("meal"));
    check(Kind::Product, "meal", &itself, &[("/sizes/0/parts", "nested too deep")]);
    let addition = with(extra(), "/lines/0/item", json!("salt"));
    check(Kind::Addition, "more-dip", &addition, &[("/lines/0", "salt")]);
}

#[test]
fn a_preparation_or_price_that_cannot_be_worked_out() {
    let salt = with(dip(), "/made_from/inputs/1/item", json!("salt"));
    check(Kind::Item, "dip", &salt, &[("/made_from/inputs/1", "salt")]);
    let per = json!({ "price": "1", "per": amount("1", "sack") });
    check(Kind::Price, "potato", &per, &[("/per", "potato has no pack \"sack\"")]);
    check(Kind::Price, "salt", &per_kg("1"), &[("/per", "there is no \"salt\" under items")]);
    let codeless = with(extra(), "/till_codes", json!([]));
    check(Kind::Addition, "No Code", &codeless, &[("", "the code is none")]);
}

/// The dip is made with yoghurt; yoghurt made with herbs is sound, made with dip it is not, nor with
/// herbs that are made with dip.
#[test]
fn nothing_is_made_with_itself() {
    let made = |of: &str| {
        let mut body = bought("Made");
        body["made_from"] = json!({ "batch": amount("1", "kg"), "inputs": [takes(of, "1", "kg")] });
        body
    };
    let at = "/made_from/inputs/0/item";
    check(Kind::Item, "yoghurt", &made("herbs"), &[]);
    let says = "dip is itself made with yoghurt";
    check(Kind::Item, "yoghurt", &made("dip"), &[(at, says)]);
    check(Kind::Item, "yoghurt", &made("yoghurt"), &[(at, "yoghurt is itself made with yoghurt")]);
    let through = and(Kind::Item, "herbs", &made("dip"));
    let flaws = told(&through.flaws("yoghurt", &read(Kind::Item, &made("herbs"))));
    assert_eq!(flaws, [format!("{at}: herbs is itself made with yoghurt")]);
    // A ring that the item is no part of ends the search.
    let flaws = through.flaws("potato", &read(Kind::Item, &made("herbs")));
    assert!(flaws.is_empty(), "{flaws:?}");
}

#[test]
fn a_code_of_the_till_belongs_to_one_thing() {
    let size = "/sizes/0/till_codes/0";
    let meals = with(meal(), size, json!("102"));
    check(Kind::Product, "meal", &meals, &[(size, "the till code \"102\" belongs to fries/one")]);
    let added = with(meal(), size, json!("901"));
    check(Kind::Product, "meal", &added, &[(size, "the till code \"901\" belongs to more-dip")]);
    let addition = with(extra(), "/till_codes/0", json!("201"));
    let says = "the till code \"201\" belongs to meal/one";
    check(Kind::Addition, "more-dip", &addition, &[("/till_codes/0", says)]);
    // An addition of a product's code is another thing all the same.
    let namesake = with(extra(), "/till_codes/0", json!("101"));
    let says = "the till code \"101\" belongs to fries/one";
    check(Kind::Addition, "fries", &namesake, &[("/till_codes/0", says)]);
}
