//! The invented worked store over two nights: everything of the worked example, with nobody
//! counting on the first of them, an entry withdrawn, and a line of the till sent again.

use parings::edge::new_id;
use parings_core::access::Role;
use parings_tests::house::{House, Person, Sending, house};
use parings_tests::{Reply, network};
use reqwest::Method;
use serde_json::{Value, json};

/// The first count.
pub const FIRST: &str = "2026-06-15";
/// Nobody counted.
pub const BETWEEN: &str = "2026-06-16";
/// The worked night.
pub const DATE: &str = "2026-06-17";

pub struct Scene {
    pub house: House,
    pub office: Person,
    pub manager: Person,
    pub crew: Person,
    pub till: Person,
}

pub fn typed(value: &str, unit: &str) -> Value {
    json!({ "value": value, "unit": unit })
}

/// An entry of russets.
pub fn entry(kind: &str, said: Value) -> Value {
    let mut entry = json!({ "id": new_id(), "kind": kind, "item": "russet" });
    for (name, value) in said.as_object().expect("members") {
        entry[name] = value.clone();
    }
    entry
}

pub fn waste(reason: &str, stage: Option<&str>, kg: &str) -> Value {
    let said = json!({ "reason": reason, "quantity": typed(kg, "kg") });
    let mut waste = entry("waste", said);
    if let Some(stage) = stage {
        waste["stage"] = json!(stage);
    }
    waste
}

/// A count of russets: raw in the dry store, chilled in the cold room.
pub fn count(raw: &str, chilled: &str) -> Value {
    json!({ "submission_id": new_id(), "complete": false, "counted_by": ["Ann"], "lines": [
        { "item": "russet", "place": "dry-store", "quantity": typed(raw, "kg") },
        { "item": "russet", "place": "cold-room", "stage": "chill",
            "quantity": typed(chilled, "kg") },
    ] })
}

pub fn sale(line: &str, code: &str, units: u32, net: &str) -> Value {
    json!({ "line": line, "code": code, "units": units, "net": net })
}

pub fn russet() -> Value {
    let stage = |code: &str, standard: &str, cap: &str, low: &str, high: &str| {
        json!({ "code": code, "title": code, "standard": standard, "cap": cap,
            "low": low, "high": high })
    };
    json!({
        "title": "Russets", "group": "food", "base": "mass", "rhythm": { "every": "night" },
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

fn chips() -> Value {
    let size = |grams: &str| {
        json!({ "code": format!("g{grams}"), "title": grams, "till_codes": [format!("c{grams}")],
            "lines": [{ "item": "russet", "stage": "finish", "quantity": typed(grams, "g") }] })
    };
    let sizes = ["100", "150", "200", "300"].map(size);
    json!({ "title": "Chips", "sizes": sizes })
}

impl Scene {
    /// A network, its people, and nothing recorded.
    pub async fn set() -> Self {
        let house = house().await;
        let office = house.person(Role::Office).await;
        network::start(&house, &office.token).await;
        network::put(&house, &office.token, "items", "russet", russet()).await;
        network::put(&house, &office.token, "products", "chips", chips()).await;
        let price = json!({ "price": "0.90", "per": typed("1", "kg") });
        network::put(&house, &office.token, "prices", "russet", price).await;
        let ford = || vec!["ford".parse().expect("a code")];
        let manager = house.person(Role::Manager(ford())).await;
        let crew = house.person(Role::Crew(ford())).await;
        let till = house.person(Role::Till(ford())).await;
        house.clock.set("2026-06-17T22:00:00Z".parse().expect("a moment"));
        Self { house, office, manager, crew, till }
    }

    /// The same with the worked store's two nights played.
    pub async fn play() -> Self {
        let scene = Self::set().await;
        scene.submit(FIRST, None, count("148.0", "0")).await.expect(201);
        let dropped = waste("dropped", None, "9.9");
        let taken_back = dropped["id"].as_str().expect("an id").to_owned();
        let bags = entry("delivery", json!({ "quantity": typed("10", "bag") }));
        scene.record(BETWEEN, &[bags, dropped]).await.expect(201);
        scene.withdraw(&taken_back).await.expect(200);
        let pounds = json!({ "quantity": typed("50", "lb"), "from": "weir" });
        let batch = json!({ "put_in": typed("272.2", "kg"),
            "steps": [{ "stage": "chill", "out": typed("180.8", "kg") }] });
        // Mean 102.0 g of 100 g each.
        let weights = ["109.8", "94.2"].repeat(10);
        let weights: Vec<_> = weights.into_iter().map(|grams| typed(grams, "g")).collect();
        let portions = json!({ "product": "chips", "size": "g100", "weights": weights });
        let entries = [
            entry("transfer_in", pounds),
            entry("batch", batch),
            entry("sample", portions),
            waste("spoiled-on-receipt", None, "1.5"),
            waste("expired", Some("chill"), "4.3"),
            waste("held-too-long", Some("finish"), "1.1"),
        ];
        scene.record(DATE, &entries).await.expect(201);
        let first = [sale("1", "c100", 90, "405.00"), sale("2", "c150", 999, "1.00")];
        scene.feed(BETWEEN, "t1-1", &first).await.expect(201);
        scene.feed(BETWEEN, "t1-2", &[sale("2", "c150", 211, "1371.50")]).await.expect(201);
        let second = [sale("3", "c200", 318, "2788.50"), sale("4", "c300", 26, "272.50")];
        scene.feed(DATE, "t1-3", &second).await.expect(201);
        scene.submit(DATE, None, count("90.7", "27.5")).await.expect(201);
        scene
    }

    /// Submits a night, or amends the revision that is named.
    pub async fn submit(&self, date: &str, etag: Option<&str>, mut body: Value) -> Reply {
        let header = etag.map_or(network::CREATE, |etag| ("If-Match", etag));
        if etag.is_some() {
            body["reason"] = json!("counted again");
        }
        let path = format!("/v1/stores/ford/nights/{date}");
        self.house.put(&path, Some(&self.manager.token), &[header], &body).await
    }

    async fn post(&self, path: &str, body: &Value) -> Reply {
        let (key, token) = (new_id().to_string(), Some(self.crew.token.as_str()));
        let headers = [("Idempotency-Key", key.as_str())];
        let send = Sending { token, headers: &headers, json: Some(body) };
        self.house.send(Method::POST, path, send).await
    }

    /// Crew record entries.
    pub async fn record(&self, date: &str, entries: &[Value]) -> Reply {
        let body = json!({ "business_date": date, "entries": entries });
        self.post("/v1/stores/ford/entries", &body).await
    }

    /// Crew take an entry back.
    pub async fn withdraw(&self, id: &str) -> Reply {
        let path = format!("/v1/stores/ford/entries/{id}/withdraw");
        self.post(&path, &json!({ "reason": "not ours" })).await
    }

    /// The till sends a batch.
    pub async fn feed(&self, date: &str, id: &str, sales: &[Value]) -> Reply {
        let body = json!({ "batch_id": id, "business_date": date, "sales": sales });
        self.house.post("/v1/stores/ford/till-batches", Some(&self.till.token), &body).await
    }

    /// A figure of a night, opened by somebody.
    pub async fn trace(&self, by: &Person, date: &str, query: &str) -> Reply {
        let path = format!("/v1/stores/ford/nights/{date}/trace?{query}");
        self.house.get(&path, Some(&by.token)).await
    }
}
