//! A small invented network, put on record over HTTP.

use parings::cluster::roles::OWNER;
use parings::edge::new_id;
use parings_core::access::Role;
use serde_json::{Value, json};

use crate::house::House;

/// The precondition of a write that creates.
pub const CREATE: (&str, &str) = ("If-None-Match", "*");

/// The body of a change, with an id of its own.
pub fn change(valid_from: &str, document: Value) -> Value {
    json!({ "submission_id": new_id(), "valid_from": valid_from, "document": document })
}

/// Puts a document in force from the start of 2026.
pub async fn put(house: &House, token: &str, kind: &str, code: &str, document: Value) {
    let path = format!("/v1/reference/{kind}/{code}");
    let body = change("2026-01-01", document);
    house.put(&path, Some(token), &[CREATE], &body).await.expect(201);
}

/// A store that opens on all days but Sunday and New Year's Eve.
pub fn store(title: &str, district: &str, owner: &str) -> Value {
    json!({
        "title": title, "district": district, "owner": owner, "format": "counter",
        "zone": "Europe/Berlin", "open": ["mon", "tue", "wed", "thu", "fri", "sat"],
        "closed": ["2026-12-31"],
    })
}

/// Potatoes in 22.68 kg bags, counted every night in the dry store and, trimmed, in the cold room.
pub fn potato() -> Value {
    json!({
        "title": "Potatoes", "group": "food", "base": "mass", "rhythm": { "every": "night" },
        "packs": [{ "code": "bag", "title": "Bag", "holds": { "value": "22.68", "unit": "kg" } }],
        "shelves": [
            { "place": "cold-room", "stage": "trim", "unit": "kg" },
            { "place": "dry-store", "unit": "bag" },
        ],
        "pans": [{ "code": "deep", "title": "Deep pan", "tare": { "value": "1.2", "unit": "kg" } }],
        "stages": [{ "code": "trim", "title": "Trimmed", "standard": "0.90", "cap": "1",
            "low": "0.88", "high": "0.97" }],
    })
}

/// Fries of one size.
pub fn fries() -> Value {
    json!({ "title": "Fries", "sizes": [{ "code": "one", "title": "One size",
        "lines": [{ "item": "potato", "stage": "trim",
            "quantity": { "value": "200", "unit": "g" } }] }] })
}

/// The starting values of every new network, and the network of [`open`]; its limits are so wide that
/// hardly anything is asked and nothing is locked, so that a test says itself what is out of order.
pub async fn start(house: &House, token: &str) {
    start_as_shipped(house, token).await;
    let limits = json!({
        "spreads": "1000", "fit_spreads": "1", "history_nights": 1000, "least_stake": "100000",
        "same_content_minutes": 0, "copied_items": 1000, "use_spreads": "1000",
        "lock_hours": 1000, "old_days": 1000, "date_hours": 1000, "clock_minutes": 1000, "new_store_days": 0,
    });
    put_limits(house, token, &limits).await;
}

/// Puts limits in force from the start of 2026; those that are not named keep their value.
pub async fn put_limits(house: &House, token: &str, limits: &Value) {
    let path = "/v1/reference/settings/network";
    let known = house.get(path, Some(token)).await;
    let mut settings = known.expect(200).json["document"].clone();
    for (limit, value) in limits.as_object().expect("limits by their names") {
        settings["limits"][limit] = value.clone();
    }
    let mut body = change("2026-01-01", settings);
    body["reason"] = json!("For the test");
    house.put(path, Some(token), &[("If-Match", "*")], &body).await.expect(200);
}

/// The same with the limits that are shipped.
pub async fn start_as_shipped(house: &House, token: &str) {
    parings::starting::put(&house.database.url(OWNER)).await.expect("starting values");
    let there = |kind: &str, code: &str| matches!((kind, code), ("formats", _) | (_, "dry-store"));
    put_all(house, token, there).await;
}

/// Stores ford (district upper, region valley, owner brook) and weir (lower, coast, hill), two
/// places, potatoes, and fries made of them.
pub async fn open(house: &House, token: &str) {
    put_all(house, token, |_, _| false).await;
}

async fn put_all(house: &House, token: &str, there: impl Fn(&str, &str) -> bool) {
    let titled = |title: &str| json!({ "title": title });
    for (kind, code, document) in [
        ("regions", "valley", titled("Valley")),
        ("regions", "coast", titled("Coast")),
        ("districts", "upper", json!({ "title": "Upper", "region": "valley" })),
        ("districts", "lower", json!({ "title": "Lower", "region": "coast" })),
        ("owners", "brook", titled("Brook")),
        ("owners", "hill", titled("Hill")),
        ("formats", "counter", titled("Counter")),
        ("places", "dry-store", json!({ "title": "Dry store", "turn": 1 })),
        ("places", "cold-room", json!({ "title": "Cold room", "turn": 2 })),
        ("stores", "ford", store("Ford", "upper", "brook")),
        ("stores", "weir", store("Weir", "lower", "hill")),
        ("items", "potato", potato()),
        ("products", "fries", fries()),
    ] {
        if !there(kind, code) {
            put(house, token, kind, code, document).await;
        }
    }
}

/// One role of each kind; those with a place are at ford.
pub fn roles() -> Vec<Role> {
    let code = "ford".parse();
    let ford = || vec![code.clone().expect("a code")];
    vec![
        Role::Crew(ford()),
        Role::Manager(ford()),
        Role::Coach(vec!["upper".parse().expect("a code")]),
        Role::Owner(vec!["brook".parse().expect("a code")]),
        Role::Office,
        Role::Till(ford()),
    ]
}
