//! The catalogue of an invented kitchen: every price, recipe and yield is made up, and what comes
//! out of them is worked out beside each check by hand.

mod documents;
mod items;
mod limits;
mod named;
mod places;
mod recipes;

use rust_decimal::Decimal;
use serde_json::{Value, json};

use super::*;
use crate::ids::{ItemId, ProductId, SizeId, StageId};

fn d(text: &str) -> Decimal {
    text.parse().expect(text)
}

fn item_id(code: &str) -> ItemId {
    code.parse().expect(code)
}

fn product_and_size(product: &str, size: &str) -> (ProductId, SizeId) {
    (product.parse().expect(product), size.parse().expect(size))
}

fn typed(value: &str, unit: &str) -> Typed {
    Typed::new(d(value), unit.parse().expect(unit)).expect(value)
}

fn read(kind: Kind, body: &Value) -> Document {
    kind.read(body).unwrap_or_else(|e| panic!("{body}: {e}"))
}

/// A document with one of its members changed.
fn with(mut body: Value, at: &str, value: Value) -> Value {
    *body.pointer_mut(at).expect(at) = value;
    body
}

/// Flaws as "where: what".
fn told(flaws: &[Flaw]) -> Vec<String> {
    flaws.iter().map(|flaw| format!("{}: {}", flaw.at, flaw.says)).collect()
}

fn amount(value: &str, unit: &str) -> Value {
    json!({ "value": value, "unit": unit })
}

/// A recipe line as purchased.
fn takes(item: &str, value: &str, unit: &str) -> Value {
    json!({ "item": item, "quantity": amount(value, unit) })
}

/// Potatoes in bags of 20 kg and pallets of 40 bags; of what is cut 80 % remains.
fn potato() -> Value {
    json!({ "title": "Potatoes", "group": "food", "base": "mass",
        "packs": [{ "code": "bag", "title": "Bag", "holds": amount("20", "kg") },
            { "code": "pallet", "title": "Pallet", "holds": amount("40", "bag") }],
        "rhythm": { "every": "night" },
        "shelves": [{ "place": "dry", "stage": null, "unit": "bag" },
            { "place": "cold", "stage": "cut", "unit": "kg" }],
        "pans": [{ "code": "deep", "title": "Deep pan", "tare": amount("1.2", "kg") },
            { "code": "flat", "title": "Flat pan", "tare": amount("0.8", "kg") }],
        "stages": [{ "code": "cut", "title": "Cut", "standard": "0.8", "cap": "0.9",
            "low": "0.7", "high": "0.85" }],
        "count_error": amount("1", "kg") })
}

/// A dip that is never counted: 5 kg of it are 4 kg of yoghurt and 1 kg of herbs.
fn dip() -> Value {
    json!({ "title": "Dip", "group": "food", "base": "mass", "rhythm": { "every": "never" },
        "made_from": { "batch": amount("5", "kg"),
            "inputs": [takes("yoghurt", "4", "kg"), takes("herbs", "1", "kg")] } })
}

fn bought(title: &str) -> Value {
    json!({ "title": title, "group": "food", "base": "mass", "rhythm": { "every": "night" },
        "shelves": [{ "place": "cold", "unit": "kg" }] })
}

fn per_kg(price: &str) -> Value {
    json!({ "price": price, "per": amount("1", "kg") })
}

/// 200 g of cut potatoes.
fn fries() -> Value {
    json!({ "title": "Fries", "sizes": [
        { "code": "one", "title": "One", "till_codes": ["101", "102"], "parts": [],
            "lines": [{ "item": "potato", "stage": "cut", "quantity": amount("200", "g") }] },
        { "code": "half", "title": "Half", "till_codes": ["103"], "parts": [],
            "lines": [{ "item": "potato", "stage": "cut", "quantity": amount("100", "g") }] }] })
}

/// Two fries with 50 g of dip.
fn meal() -> Value {
    json!({ "title": "Meal", "sizes": [{ "code": "one", "title": "One", "till_codes": ["201"],
        "lines": [takes("dip", "50", "g")],
        "parts": [{ "product": "fries", "size": "one", "count": 2 }] }] })
}

fn extra() -> Value {
    json!({ "title": "More dip", "till_codes": ["901"], "lines": [takes("dip", "30", "g")] })
}

fn ford() -> Value {
    json!({ "title": "Ford", "district": "upper", "owner": "brook", "format": "counter",
        "zone": "Europe/Berlin", "open": ["mon", "tue", "wed", "thu", "fri", "sat"],
        "hours": { "from": "11:00", "to": "22:00" },
        "other_hours": [
            { "date": "2025-12-24", "hours": { "from": "11:00", "to": "16:00" } },
            { "date": "2025-12-31", "hours": { "from": "11:00", "to": "18:42" } }],
        "walk": ["line"],
        "fryers": [{ "code": "left", "title": "Left", "oil": amount("12", "l"), "shared": true },
            { "code": "right", "title": "Right", "oil": amount("12", "l"), "shared": true }] })
}

fn dayparts(of: Value, code: &str) -> Value {
    json!({ "stores": of, "dayparts": [
        { "code": code, "title": "Midday", "hours": { "from": "11:00", "to": "15:00" } },
        { "code": "evening", "title": "Evening", "hours": { "from": "15:00", "to": "22:00" } }] })
}

fn settings() -> Value {
    json!({ "title": "Chain", "currency": "EUR", "count_error": "0.02", "sample_nights": 7,
        "minimum_tickets": 30, "lump": { "tickets": 5, "within": 10 },
        "doubtful_tickets": "0.05", "limits": { "confirmations": 3, "lock_hours": 72 } })
}

fn documents() -> Vec<(Kind, &'static str, Value)> {
    let titled = |title: &str| json!({ "title": title });
    let place = |title: &str, turn: u16| json!({ "title": title, "turn": turn });
    let reason = |title: &str, safety: bool| json!({ "title": title, "safety": safety });
    vec![
        (Kind::Settings, "network", settings()),
        (Kind::Region, "valley", titled("Valley")),
        (Kind::District, "upper", json!({ "title": "Upper valley", "region": "valley" })),
        (Kind::Owner, "brook", titled("Brook")),
        (Kind::Format, "counter", titled("Counter")),
        (Kind::Place, "dry", place("Dry store", 1)),
        (Kind::Place, "cold", place("Cold room", 2)),
        (Kind::Place, "line", place("Line", 3)),
        (Kind::Store, "ford", ford()),
        (Kind::Dayparts, "all", dayparts(json!({ "of": "all" }), "midday")),
        (Kind::Channel, "counter", json!({ "title": "Counter", "targets": [] })),
        (Kind::Reason, "dropped", reason("Dropped", false)),
        (Kind::Reason, "too-warm", reason("Too warm", true)),
        (Kind::Item, "potato", potato()),
        (Kind::Item, "yoghurt", bought("Yoghurt")),
        (Kind::Item, "herbs", bought("Herbs")),
        (Kind::Item, "dip", dip()),
        (Kind::Price, "potato", per_kg("0.90")),
        (Kind::Price, "yoghurt", per_kg("2.00")),
        (Kind::Price, "herbs", per_kg("8.00")),
        (Kind::Product, "fries", fries()),
        (Kind::Product, "meal", meal()),
        (Kind::Addition, "more-dip", extra()),
    ]
}

fn catalog() -> Catalog {
    let read = |(kind, code, body): (Kind, &str, Value)| (code.to_owned(), read(kind, &body));
    Catalog::from_documents(documents().into_iter().map(read)).unwrap()
}

/// The catalogue with one document more, or in another's place.
fn and(kind: Kind, code: &str, body: &Value) -> Catalog {
    let mut all = catalog();
    all.put(code, read(kind, body)).unwrap();
    all
}

fn item(body: &Value) -> Item {
    let Document::Item(item) = read(Kind::Item, body) else { panic!("{body} is an item") };
    item
}

fn store(body: &Value) -> Store {
    let Document::Store(store) = read(Kind::Store, body) else { panic!("{body} is a store") };
    store
}

fn stage(code: &str) -> StageId {
    code.parse().expect(code)
}
