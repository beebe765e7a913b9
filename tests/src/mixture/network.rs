//! The network of a mixture: six stores in two zones, two districts and two owners.

use std::collections::BTreeMap;

use parings_core::access::Role;
use serde_json::{Value, json};

use crate::house::{House, Person};
use crate::network::{self, change};
use crate::night::{role, typed, with};

/// The stores.
pub const STORES: [&str; 6] = ["ford", "weir", "lock", "mill", "pond", "reed"];

/// Who writes.
pub struct People {
    /// Head office.
    pub office: Person,
    /// The manager of each store.
    pub managers: BTreeMap<&'static str, Person>,
    /// Its crew.
    pub crew: BTreeMap<&'static str, Person>,
    /// Its till.
    pub tills: BTreeMap<&'static str, Person>,
}

/// Puts the network on record, and its people.
pub async fn start(house: &House) -> People {
    let office = house.person(Role::Office).await;
    network::start(house, &office.token).await;
    // Some counts are asked about, and nights are locked as everywhere.
    let limits = json!({ "use_spreads": "20", "lock_hours": 480 });
    network::put_limits(house, &office.token, &limits).await;
    let week = json!(["mon", "tue", "wed", "thu", "fri", "sat", "sun"]);
    for (n, code) in STORES.into_iter().enumerate().skip(2) {
        let (district, owner) = if n % 2 == 0 { ("upper", "hill") } else { ("lower", "brook") };
        let store = with(network::store(code, district, owner), "open", week.clone());
        let zone = if n < 4 { "America/New_York" } else { "Europe/Berlin" };
        network::put(house, &office.token, "stores", code, with(store, "zone", zone)).await;
    }
    for (code, document) in [("oil", oil()), ("bun", bun()), ("sauce", sauce())] {
        network::put(house, &office.token, "items", code, document).await;
    }
    for (code, document) in [
        ("potato", price("20.00", "bag")),
        ("oil", price("1.80", "l")),
        ("bun", price("0.20", "each")),
        ("sauce", price("2.50", "l")),
    ] {
        network::put(house, &office.token, "prices", code, document).await;
    }
    network::put(house, &office.token, "products", "burger", burger()).await;
    let path = "/v1/reference/products/fries";
    let body = with(change("2026-01-02", fries("200")), "reason", "With the till's code");
    house.put(path, Some(&office.token), &[("If-Match", "*")], &body).await.expect(200);
    let [mut managers, mut crew, mut tills] = [const { BTreeMap::new() }; 3];
    for store in STORES {
        managers.insert(store, house.person(role(Role::Manager, store)).await);
        crew.insert(store, house.person(role(Role::Crew, store)).await);
        tills.insert(store, house.person(role(Role::Till, store)).await);
    }
    People { office, managers, crew, tills }
}

/// The price of an amount.
pub fn price(money: &str, unit: &str) -> Value {
    json!({ "price": money, "per": typed("1", unit) })
}

/// Fries with so many grams of trimmed potatoes, under the till's code 1001.
pub fn fries(grams: &str) -> Value {
    json!({ "title": "Fries", "sizes": [{ "code": "one", "title": "One size",
        "till_codes": ["1001"], "lines": [
            { "item": "potato", "stage": "trim", "quantity": typed(grams, "g") },
            { "item": "oil", "quantity": typed("10", "ml") },
        ] }] })
}

fn burger() -> Value {
    json!({ "title": "Burger", "sizes": [{ "code": "one", "title": "One size",
        "till_codes": ["2001"], "lines": [
            { "item": "bun", "quantity": typed("1", "each") },
            { "item": "sauce", "quantity": typed("20", "ml") },
        ] }] })
}

fn oil() -> Value {
    json!({ "title": "Oil", "group": "food", "base": "volume",
        "rhythm": { "every": "week", "on": "tue" },
        "shelves": [{ "place": "dry-store", "unit": "l" }] })
}

fn bun() -> Value {
    json!({ "title": "Buns", "group": "food", "base": "count", "rhythm": { "every": "night" },
        "packs": [{ "code": "case", "title": "Case", "holds": typed("48", "each") }],
        "shelves": [{ "place": "dry-store", "unit": "case" }] })
}

fn sauce() -> Value {
    json!({ "title": "Sauce", "group": "food", "base": "volume", "rhythm": { "every": "night" },
        "shelves": [{ "place": "cold-room", "unit": "l" }],
        "made_from": { "batch": typed("10", "l"),
            "inputs": [{ "item": "oil", "quantity": typed("7", "l") }] } })
}
