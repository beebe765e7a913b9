//! The invented worked example: one night of one store, with every figure worked out by hand
//! beside it. Nothing in it was measured anywhere; the formulas are common practice, no source.
//!
//! |Part|kg as purchased|
//! |-|-|
//! |Opening 148.0 + delivered 226.8 + borrowed 22.7 − closing (90.7 + 27.5 ÷ 0.6741)|used 266.0|
//! |(90 × 100 + 211 × 150 + 318 × 200 + 26 × 300 g) ÷ 0.4584|expected 244.4|
//! |Variance, 19.42 at 0.90 a kilogram|21.6|
//! |Waste: 1.5 as purchased, 4.3 chilled, 1.1 finished|10.3|
//! |Yield loss: 272.2 in, 180.8 out of the chill|4.0|
//! |Over-portioning: 20 portions, 2.0 % over|4.9 ± 4.4|
//! |Unexplained|2.4 ± 5.2|

use parings_core::access::Role;
use serde_json::{Value, json};

use crate::house::{House, Person};
use crate::network;
use crate::night::{
    count, delivery, entry, feed, line, night, record, role, staged, submit, typed,
};

/// The date of the worked night, a Tuesday; the count it starts from is the night before.
pub const DATE: &str = "2026-06-16";
/// The date of the first count.
pub const FIRST: &str = "2026-06-15";
/// Till code, size in grams, units and net sales.
pub const SALES: [(&str, &str, u32, &str); 4] = [
    ("f100", "100", 90, "405.00"),
    ("f150", "150", 211, "1371.50"),
    ("f200", "200", 318, "2788.50"),
    ("f300", "300", 26, "272.50"),
];

/// Potatoes with the five stages of the worked example, and 2 kg of error a count.
pub fn potato() -> Value {
    let stage = |code: &str, standard: &str, cap: &str, low: &str, high: &str| {
        json!({ "code": code, "title": code, "standard": standard, "cap": cap,
            "low": low, "high": high })
    };
    json!({
        "title": "Potatoes", "group": "food", "base": "mass", "rhythm": { "every": "night" },
        "packs": [{ "code": "bag", "title": "Bag", "holds": typed("22.68", "kg") }],
        "shelves": [
            { "place": "dry-store", "unit": "bag" },
            { "place": "cold-room", "stage": "chill", "unit": "kg" },
        ],
        "stages": [
            stage("trim", "0.90", "1", "0.88", "0.97"),
            stage("wash", "0.99", "1.06", "0.97", "1.04"),
            stage("blanch", "0.78", "1", "0.70", "0.85"),
            stage("chill", "0.97", "1", "0.95", "0.99"),
            stage("finish", "0.68", "1", "0.58", "0.78"),
        ],
        "count_error": typed("2", "kg"),
    })
}

/// Fries of four sizes, each under a till's code.
pub fn fries() -> Value {
    let size = |(code, grams, ..): &(&str, &str, u32, &str)| {
        json!({ "code": format!("g{grams}"), "title": grams, "till_codes": [code],
            "lines": [{ "item": "potato", "stage": "finish", "quantity": typed(grams, "g") }] })
    };
    json!({ "title": "Fries", "sizes": SALES.iter().map(size).collect::<Vec<_>>() })
}

/// The network of [`network::start`] with the potatoes, fries and price of the worked example.
pub async fn start(house: &House, office: &str) {
    network::start(house, office).await;
    for (kind, code, document) in [("items", "potato", potato()), ("products", "fries", fries())] {
        let path = format!("/v1/reference/{kind}/{code}");
        let body = network::change("2026-06-01", document);
        let body = crate::night::with(body, "reason", "The worked example");
        house.put(&path, Some(office), &[("If-Match", "*")], &body).await.expect(200);
    }
    let price = json!({ "price": "0.90", "per": typed("1", "kg") });
    network::put(house, office, "prices", "potato", price).await;
}

/// What crew record on the worked night.
pub fn entries() -> Vec<Value> {
    let waste = |reason: &str, value: &str| {
        entry("waste", "potato", json!({ "reason": reason, "quantity": typed(value, "kg") }))
    };
    let at = |stage: &str, waste: Value| crate::night::with(waste, "stage", stage);
    // Mean 102.0 g, sample deviation 7.8 × √(20 ÷ 19) = 8.0 g, of 100 g each.
    let weights = ["109.8", "94.2"].repeat(10).into_iter().map(|grams| typed(grams, "g"));
    let portions =
        json!({ "product": "fries", "size": "g100", "weights": weights.collect::<Vec<_>>() });
    vec![
        delivery("10", "bag"),
        entry("transfer_in", "potato", json!({ "quantity": typed("22.7", "kg"), "from": "weir" })),
        waste("spoiled-on-receipt", "1.5"),
        at("chill", waste("expired", "4.3")),
        at("finish", waste("held-too-long", "1.1")),
        entry(
            "batch",
            "potato",
            json!({ "put_in": typed("272.2", "kg"),
                "steps": [{ "stage": "chill", "out": typed("180.8", "kg") }] }),
        ),
        entry("sample", "potato", portions),
    ]
}

/// Plays the first count and the worked night in ford, with crew, manager and till each at their
/// own part; answers with the manager and the receipt. The clock must stand past the night.
pub async fn play(house: &House) -> (Person, Value) {
    let manager = house.person(role(Role::Manager, "ford")).await;
    let crew = house.person(role(Role::Crew, "ford")).await;
    let till = house.person(role(Role::Till, "ford")).await;
    // 90.0 + 39.1 ÷ 0.67413… = 148.0.
    let first = count(&[
        line("potato", "dry-store", "90.0", "kg"),
        staged("potato", "cold-room", "chill", "39.1", "kg"),
    ]);
    submit(house, &manager, &night("ford", FIRST), &first).await;
    record(house, &crew, "ford", DATE, &entries()).await.expect(201);
    let sales = SALES.map(|(code, _, units, net)| (code, units, net));
    feed(house, &till, "ford", DATE, &sales).await.expect(201);
    // Three bags closed and one open: 3 × 22.68 + 22.66 = 90.70.
    let closing = count(&[
        line("potato", "dry-store", "3", "bag"),
        line("potato", "dry-store", "22.66", "kg"),
        staged("potato", "cold-room", "chill", "27.5", "kg"),
    ]);
    let receipt = submit(house, &manager, &night("ford", DATE), &closing).await;
    (manager, receipt)
}
