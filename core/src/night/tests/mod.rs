//! What is refused of a count, an entry and a till's batch, each beside its neighbour that is taken;
//! that a blank is no zero is common practice, no source. The kitchen and its numbers are invented.

mod counts;
mod entries;
mod till;
mod transfers;

use serde_json::{Value, json};

use super::*;
use crate::catalog::{Catalog, Flaw, Kind, Store};
use crate::ids::{EntryId, StoreId};

fn amount(value: &str, unit: &str) -> Value {
    json!({ "value": value, "unit": unit })
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

fn catalog() -> Catalog {
    let takes = |item: &str, value: &str| json!({ "item": item, "quantity": amount(value, "kg") });
    let stage = |code: &str| {
        json!({ "code": code, "title": code, "standard": "0.8", "cap": "0.9", "low": "0.7",
            "high": "0.85" })
    };
    let bought = |title: &str| {
        json!({ "title": title, "group": "food", "base": "mass", "rhythm": { "every": "night" },
            "shelves": [{ "place": "dry", "unit": "kg" }] })
    };
    let reason = |title: &str, standard: bool| json!({ "title": title, "safety": false, "in_standard_yield": standard });
    let documents = [
        (Kind::Place, "dry", json!({ "title": "Dry store", "turn": 1 })),
        (
            Kind::Store,
            "ford",
            json!({ "title": "Ford", "district": "upper", "owner": "brook", "format": "counter",
                "zone": "Europe/Berlin", "open": ["thu", "fri", "sat"] }),
        ),
        (Kind::Channel, "window", json!({ "title": "Window" })),
        (
            Kind::Dayparts,
            "all",
            json!({ "stores": { "of": "all" }, "dayparts": [{ "code": "midday", "title": "Midday",
                "hours": { "from": "11:00", "to": "15:00" } }] }),
        ),
        (Kind::Reason, "dropped", reason("Dropped", false)),
        (Kind::Reason, "peel", reason("Peel", true)),
        (
            Kind::Item,
            "potato",
            json!({ "title": "Potatoes", "group": "food", "base": "mass",
                "rhythm": { "every": "night" }, "count_error": amount("250", "g"),
                "pans": [{ "code": "deep", "title": "Deep pan", "tare": amount("1", "kg") }],
                "stages": [stage("cut"), stage("chill"), stage("fry")],
                "shelves": [{ "place": "dry", "unit": "kg" },
                    { "place": "dry", "stage": "cut", "unit": "kg" }] }),
        ),
        (Kind::Item, "yoghurt", bought("Yoghurt")),
        (Kind::Item, "herbs", bought("Herbs")),
        (
            Kind::Item,
            "dip",
            json!({ "title": "Dip", "group": "food", "base": "mass",
                "rhythm": { "every": "never" }, "made_from": { "batch": amount("5", "kg"),
                    "inputs": [takes("yoghurt", "4"), takes("herbs", "1")] } }),
        ),
        (
            Kind::Product,
            "fries",
            json!({ "title": "Fries", "sizes": [{ "code": "one", "title": "One", "lines": [
                { "item": "potato", "stage": "cut", "quantity": amount("200", "g") }] }] }),
        ),
    ];
    let read =
        |(kind, code, body): (Kind, &str, Value)| (code.to_owned(), kind.read(&body).expect(code));
    Catalog::from_documents(documents.map(read)).unwrap()
}

fn ford() -> StoreId {
    "ford".parse().unwrap()
}

fn store(catalog: &Catalog) -> &Store {
    &catalog.stores[&ford()]
}

fn entry(body: &Value) -> Entry {
    let read = serde_json::from_value(body.clone());
    Entry { id: EntryId(uuid::Uuid::from_u128(1)), body: read.unwrap_or_else(|e| panic!("{e}")) }
}

/// Whole grams that an entry moves.
fn amount_of(catalog: &Catalog, entry: &Entry) -> Option<i64> {
    let moved = super::amount(catalog, &entry.body).unwrap();
    moved.map(|base| base.settle().unwrap().thousandths() / 1_000)
}
