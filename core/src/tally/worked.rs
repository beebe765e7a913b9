//! An invented night with everything in it that people and tills record, for tests to work out by hand.

use serde_json::{Value, json};

use super::DayFacts;
use crate::calendar::BusinessDate;
use crate::catalog::{Catalog, Kind};
use crate::ids::{EntryId, ItemId};
use crate::night::Entry;

/// A Tuesday on which the store trades two hours of its usual twelve.
pub(super) fn date() -> BusinessDate {
    BusinessDate::new(2026, 6, 16).expect("a date")
}

pub(super) fn item(code: &str) -> ItemId {
    ItemId::new(code).expect("a code")
}

pub(super) fn read<T: serde::de::DeserializeOwned>(body: Value) -> T {
    serde_json::from_value(body).expect("a fact")
}

pub(super) fn kg(value: &str) -> Value {
    json!({ "value": value, "unit": "kg" })
}

fn grams(value: &str) -> Value {
    json!({ "value": value, "unit": "g" })
}

/// Of ten kilograms of potatoes eight are left when they are trimmed, and four when they are chilled.
fn potato() -> Value {
    let stage = |code: &str, [standard, cap, low, high]: [&str; 4]| {
        json!({ "code": code, "title": code, "standard": standard, "cap": cap, "low": low,
            "high": high })
    };
    json!({ "title": "Potatoes", "group": "food", "base": "mass", "rhythm": { "every": "night" },
        "packs": [{ "code": "bag", "title": "Bag", "holds": kg("20") }],
        "shelves": [{ "place": "dry-store", "unit": "bag" },
            { "place": "cold-room", "stage": "chill", "unit": "kg" }],
        "stages": [stage("trim", ["0.8", "0.9", "0.5", "0.85"]),
            stage("chill", ["0.5", "0.6", "0.4", "0.55"])] })
}

fn bought(rhythm: Value, places: &[&str]) -> Value {
    let shelves: Vec<_> =
        places.iter().map(|place| json!({ "place": place, "unit": "kg" })).collect();
    json!({ "title": "Food", "group": "food", "base": "mass", "rhythm": rhythm, "shelves": shelves })
}

fn documents() -> Vec<(Kind, &'static str, Value)> {
    let nightly = || json!({ "every": "night" });
    let made = |rhythm: &str, error: Value, from: Value| {
        json!({ "title": "Made here", "group": "food", "base": "mass",
            "rhythm": { "every": rhythm }, "count_error": error, "made_from": from,
            "shelves": [{ "place": "cold-room", "unit": "kg" }] })
    };
    let mash = json!({ "batch": kg("10"),
        "inputs": [{ "item": "potato", "stage": "trim", "quantity": kg("4") }] });
    let dip = json!({ "batch": kg("1"), "inputs": [{ "item": "salt", "quantity": grams("200") }] });
    let line = |item: &str, stage: Value, amount: &str| json!({ "item": item, "stage": stage, "quantity": grams(amount) });
    let mut kiosk = bought(nightly(), &["dry-store"]);
    kiosk["formats"] = json!(["kiosk"]);
    let daypart = |code: &str, from: &str, to: &str| json!({ "code": code, "title": code, "hours": { "from": from, "to": to } });
    vec![
        (
            Kind::Settings,
            "network",
            json!({ "title": "Chain", "currency": "EUR", "count_error": "0.02", "sample_nights": 7,
                "minimum_tickets": 30, "lump": { "tickets": 5, "within": 10 },
                "doubtful_tickets": "0.05" }),
        ),
        (
            Kind::Store,
            "ford",
            json!({ "title": "Ford", "district": "upper", "owner": "brook", "format": "counter",
                "zone": "Europe/Berlin", "open": ["mon", "tue", "wed", "thu", "fri", "sat", "sun"],
                "hours": { "from": "11:00", "to": "23:00" },
                "other_hours": [{ "date": "2026-06-16",
                    "hours": { "from": "11:00", "to": "13:00" } }] }),
        ),
        (
            Kind::Dayparts,
            "all",
            json!({ "stores": { "of": "all" }, "dayparts": [daypart("lunch", "11:00", "15:00"),
                daypart("dinner", "17:00", "22:00")] }),
        ),
        (Kind::Channel, "counter", json!({ "title": "Counter", "targets": [{ "seconds": 300 }] })),
        (Kind::Channel, "window", json!({ "title": "Window" })),
        (Kind::Reason, "expired", json!({ "title": "Expired", "safety": false })),
        (Kind::Reason, "recall", json!({ "title": "Recall", "safety": true })),
        (Kind::Item, "potato", potato()),
        (Kind::Item, "mash", made("night", grams("150"), mash)),
        (Kind::Item, "dip", made("never", Value::Null, dip)),
        (Kind::Item, "salt", bought(json!({ "every": "week", "on": "sun" }), &["dry-store"])),
        (Kind::Item, "oil", bought(nightly(), &["dry-store"])),
        (Kind::Item, "onion", bought(nightly(), &["dry-store", "cold-room"])),
        (Kind::Item, "leek", bought(nightly(), &["dry-store"])),
        (Kind::Item, "bun", kiosk),
        (Kind::Price, "potato", json!({ "price": "0.90", "per": kg("1") })),
        (Kind::Price, "salt", json!({ "price": "0.50", "per": kg("1") })),
        (
            Kind::Product,
            "fries",
            json!({ "title": "Fries", "sizes": [{ "code": "one", "title": "One",
                "till_codes": ["1"], "lines": [line("potato", json!("chill"), "200"),
                    line("salt", Value::Null, "2")] }] }),
        ),
        (
            Kind::Product,
            "meal",
            json!({ "title": "Meal", "sizes": [{ "code": "one", "title": "One",
                "till_codes": ["2"], "lines": [line("mash", Value::Null, "100")],
                "parts": [{ "product": "fries", "size": "one", "count": 2 }] }] }),
        ),
        (
            Kind::Addition,
            "more",
            json!({ "title": "More", "till_codes": ["9"], "lines": [
                line("potato", json!("trim"), "40"), line("dip", Value::Null, "10")] }),
        ),
    ]
}

/// Potatoes at 0.90 a kilogram, of which mash is made, so that it costs 0.45; salt at 0.50.
pub(super) fn catalog() -> Catalog {
    let read = |(kind, code, body): (Kind, &str, Value)| {
        (code.to_owned(), kind.read(&body).expect("a document"))
    };
    Catalog::from_documents(documents().into_iter().map(read)).expect("codes")
}

pub(super) fn entries(bodies: &[Value]) -> Vec<Entry> {
    let id = |n: usize| EntryId(uuid::Uuid::from_u128(n as u128));
    let all = bodies.iter().enumerate();
    all.map(|(n, body)| Entry { id: id(n), body: read(body.clone()) }).collect()
}

/// The night that a till fed.
pub(super) fn fed() -> DayFacts {
    let waste = |item: &str, stage: Value, reason: &str, quantity: Value, daypart: Value| {
        json!({ "kind": "waste", "item": item, "stage": stage, "reason": reason,
            "quantity": quantity, "daypart": daypart })
    };
    let weighed = |weights: &[&str]| {
        let weights: Vec<_> = weights.iter().map(|weight| grams(weight)).collect();
        json!({ "kind": "sample", "product": "fries", "size": "one", "item": "potato",
            "weights": weights })
    };
    let out = |item: &str, from: &str, to: Value| json!({ "kind": "stock_out", "item": item, "from": from, "to": to });
    let bodies = [
        json!({ "kind": "delivery", "item": "potato", "quantity": kg("100"), "paid": "95.00",
            "lot": "L7" }),
        json!({ "kind": "delivery", "item": "potato", "quantity": kg("10") }),
        json!({ "kind": "delivery", "item": "potato", "quantity": kg("20"), "paid": "17.00" }),
        json!({ "kind": "transfer_in", "item": "potato", "stage": "trim", "quantity": kg("8"),
            "from": "weir" }),
        json!({ "kind": "transfer_out", "item": "potato", "quantity": kg("3"), "to": "mill" }),
        json!({ "kind": "batch", "item": "potato", "from": "trim", "put_in": kg("10"),
            "steps": [{ "stage": "chill", "out": kg("7") }] }),
        json!({ "kind": "batch", "item": "potato", "put_in": kg("50"), "lot": "L7",
            "steps": [{ "stage": "trim", "out": kg("36") }, { "stage": "chill", "out": kg("19") }] }),
        json!({ "kind": "preparation", "item": "mash", "made": kg("20") }),
        json!({ "kind": "preparation", "item": "dip", "made": kg("2") }),
        waste("potato", json!("chill"), "expired", kg("2"), json!("lunch")),
        waste("potato", Value::Null, "recall", kg("3"), Value::Null),
        waste("potato", json!("chill"), "expired", kg("0.4"), json!("lunch")),
        waste("mash", Value::Null, "expired", kg("1"), Value::Null),
        waste("mash", Value::Null, "recall", kg("2"), Value::Null),
        weighed(&["206", "198"]),
        weighed(&["210"]),
        // From 14:58 to 15:03 by the store's clock: lunch ends in between.
        out("potato", "2026-06-16T12:58:00Z", json!("2026-06-16T13:03:00Z")),
        // To the end of the business day, and from before it began.
        out("mash", "2026-06-17T02:50:00Z", Value::Null),
        out("mash", "2026-06-16T02:00:00Z", json!("2026-06-16T03:04:00Z")),
    ];
    let more = |code: &str, units: u32| json!({ "code": code, "units": units });
    let first = json!({
        "sales": [
            { "line": "a", "code": "1", "units": 10, "net": "30.00", "channel": "counter",
                "when": { "at": "2026-06-16T10:30:00Z" } },
            { "line": "b", "code": "1", "units": 5, "net": "15.00", "channel": "window",
                "when": { "daypart": "dinner" }, "leave_outs": ["salt"] },
            { "code": "2", "units": 3, "net": "27.00" },
            { "code": "1", "units": 2, "net": "6.00", "channel": "counter",
                "when": { "daypart": "dinner" }, "outcome": "voided_before_making",
                "additions": [more("9", 4), more("77", 5)] },
            { "code": "1", "units": 1, "net": "3.00", "channel": "window",
                "when": { "daypart": "dinner" }, "outcome": "given_away" },
            { "code": "55", "units": 4, "net": "8.00", "channel": "counter",
                "when": { "daypart": "lunch" }, "additions": [more("9", 6), more("66", 7)] },
            { "code": "55", "units": 2, "net": "1.00", "channel": "counter",
                "when": { "daypart": "lunch" }, "outcome": "staff_meal" },
        ],
        "tickets": [
            { "id": "t1", "placed": "2026-06-16T10:00:00Z", "channel": "counter" },
            { "id": "t2", "placed": "2026-06-16T10:10:00Z", "handed_off": "2026-06-16T10:16:00Z",
                "channel": "counter" },
            { "id": "t3", "placed": "2026-06-16T15:40:00Z", "channel": "window",
                "promised": "2026-06-16T15:55:00Z" },
            { "id": "t4", "placed": "2026-06-16T15:45:00Z", "handed_off": "2026-06-16T15:50:00Z",
                "channel": "window" },
            { "id": "t5", "placed": "2026-06-16T13:30:00Z", "handed_off": "2026-06-16T13:32:00Z" },
        ]
    });
    // The till sends a line and a ticket again.
    let second = json!({
        "sales": [{ "line": "a", "code": "1", "units": 12, "net": "36.50", "channel": "counter",
            "when": { "at": "2026-06-16T15:30:00Z" } }],
        "tickets": [{ "id": "t1", "placed": "2026-06-16T10:00:00Z",
            "handed_off": "2026-06-16T10:04:00Z", "channel": "counter" }]
    });
    let line = |item: &str, place: &str, quantity: Value| json!({ "item": item, "place": place, "quantity": quantity });
    let mut chilled = line("potato", "cold-room", kg("6"));
    chilled["stage"] = json!("chill");
    // Onions stand in two places, of which one is answered; leek in one, which is not.
    let count = json!({ "complete": false, "lines": [
        line("potato", "dry-store", json!({ "value": "2", "unit": "bag" })),
        chilled,
        line("potato", "dry-store", kg("1")),
        line("mash", "cold-room", kg("9")),
        line("oil", "dry-store", kg("5")),
        line("onion", "dry-store", kg("4")),
    ] });
    DayFacts {
        entries: entries(&bodies),
        count: Some(read(count)),
        left_out: [item("oil")].into(),
        till: vec![read(first), read(second)],
    }
}

/// The night without a till: what was sold was typed with a count that answers all but what is left out.
pub(super) fn typed() -> DayFacts {
    let line = |item: &str, place: &str, stage: Value| json!({ "item": item, "place": place, "stage": stage, "quantity": kg("1") });
    let count = json!({ "complete": true, "net_sales": "52.25",
        "lines": [
            line("potato", "dry-store", Value::Null),
            line("potato", "cold-room", json!("chill")),
            line("mash", "cold-room", Value::Null),
            line("oil", "dry-store", Value::Null),
            line("onion", "dry-store", Value::Null),
            line("onion", "cold-room", Value::Null),
            line("leek", "dry-store", Value::Null),
        ],
        "units_sold": [
            { "product": "fries", "size": "one", "units": 7, "daypart": "dinner",
                "channel": "window" },
            { "product": "meal", "size": "one", "units": 2 },
            { "product": "fries", "size": "one", "units": 3, "outcome": "voided_before_making" },
        ] });
    DayFacts { count: Some(read(count)), left_out: [item("oil")].into(), ..DayFacts::default() }
}
