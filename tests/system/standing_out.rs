//! A scene in which something stands out: tallies put on record, all invented.

use chrono::{DateTime, NaiveDate, TimeDelta, Utc};
use parings::app::watch::nightly;
use parings::cluster::SUPERUSER;
use parings::edge::new_id;
use parings_core::access::Role;
use parings_tests::house::{House, Sending, house};
use parings_tests::reply::Reply;
use parings_tests::tallies::{put, reference};
use reqwest::Method;
use serde_json::{Value, json};

const STORES: [(&str, &str); 14] = [
    ("ford", "upper"),
    ("mill", "upper"),
    ("weir", "upper"),
    ("quay", "upper"),
    ("lock", "upper"),
    ("mere", "upper"),
    ("tarn", "upper"),
    ("north-gate", "lower"),
    ("east-gate", "lower"),
    ("south-gate", "lower"),
    ("west-gate", "lower"),
    ("old-gate", "lower"),
    ("new-gate", "lower"),
    ("far-gate", "lower"),
];

/// The last night, of 112.
pub fn last() -> NaiveDate {
    NaiveDate::from_ymd_opt(2026, 6, 20).expect("a date")
}

fn rows((place, store, district): (i64, &str, &str), night: i64, beyond: f64) -> (Value, Value) {
    let date = last() + TimeDelta::days(night);
    let key = json!({
        "business_date": date, "store_id": store, "district_id": district, "region_id": "valley",
        "owner_id": "brook", "rules": parings_core::tally::RULES,
        "known_at": "2026-01-01T00:00:00Z",
    });
    let with = |said: Value| {
        let mut row = key.as_object().expect("an object").clone();
        row.extend(said.as_object().expect("an object").clone());
        Value::Object(row)
    };
    let wasted = (1_000 + night * 13 + place * 17 + (200 - night) * (place + 3) % 7 * 5) % 29;
    let over = (2_000_000.0 * beyond).round() as i64;
    let night = with(json!({
        "counted": true, "sales_source": "feed", "sales": 40_000_000, "units": 400,
        "wasted_cost": 30_000 + 1_000 * wasted,
    }));
    let span = with(json!({
        "item_id": "potato", "opened_on": date - TimeDelta::days(1), "nights": 1,
        "used": 200_000_000 + 100 * over, "used_cost": 2_000_000 + over,
        "expected": 200_000_000, "expected_cost": 2_000_000, "variance_cost": over,
        "sales": 40_000_000,
    }));
    (night, span)
}

pub struct Scene {
    pub house: House,
}

impl Scene {
    /// Fourteen stores that take 3 to 5 % more than they should, each by its own swing; since twelve
    /// nights ford takes 10 points more, and last night north-gate took 50 points more. It is six in
    /// the morning in Berlin: the night is over, by an hour.
    pub async fn set() -> Self {
        let house = house().await;
        let pg = house.pg(SUPERUSER).await;
        reference(&pg, &STORES.map(|(store, district)| (store, district, "2026-01-01"))).await;
        let scene = Self { house };
        scene
            .nights(-111..=0, |store, night| match store {
                "ford" if night > -12 => 0.10,
                "north-gate" if night == 0 => 0.50,
                _ => 0.0,
            })
            .await;
        scene.at("2026-06-21T04:00:00Z");
        scene
    }

    /// Puts nights on record, told from the last of the scene, in which a store takes so much more.
    pub async fn nights(
        &self,
        nights: std::ops::RangeInclusive<i64>,
        more: impl Fn(&str, i64) -> f64,
    ) {
        let pg = self.house.pg(SUPERUSER).await;
        let (mut all, mut spans) = (Vec::new(), Vec::new());
        for (place, (store, district)) in (0..).zip(STORES) {
            for night in nights.clone() {
                let swing = ((1_001 - night * 7 + place * 5) % 11) as f64 / 500.0;
                let beyond = 0.03 + swing + more(store, night);
                let (night, span) = rows((place, store, district), night, beyond);
                all.push(night);
                spans.push(span);
            }
        }
        put(&pg, "night_tallies", all).await;
        put(&pg, "item_spans", spans).await;
    }

    pub fn at(&self, moment: &str) {
        let moment: DateTime<Utc> = moment.parse().expect("a moment");
        self.house.clock.set(moment);
    }

    /// Sets the clock to the morning after a night, told from the last of the scene, and looks.
    pub async fn morning_after(&self, night: i64) -> usize {
        let morning = last() + TimeDelta::days(night + 1);
        self.at(&format!("{morning}T04:00:00Z"));
        self.look().await
    }

    pub async fn look(&self) -> usize {
        nightly::look(&self.house.deps).await.expect("a look")
    }

    /// What a list tells somebody.
    pub async fn listed(&self, role: Role, path: &str) -> Vec<Value> {
        let reply = self.get(role, path).await;
        reply.expect(200);
        reply.json["items"].as_array().expect("items").clone()
    }

    pub async fn told(&self, role: Role, query: &str) -> Vec<Value> {
        self.listed(role, &format!("/v1/findings{query}")).await
    }

    pub async fn get(&self, role: Role, path: &str) -> Reply {
        let token = self.house.token(&self.house.person(role).await);
        self.house.get(path, Some(&token)).await
    }

    /// Posts under a key of its own.
    pub async fn post(&self, role: Role, path: &str, body: &Value) -> Reply {
        let token = self.house.token(&self.house.person(role).await);
        let key = new_id().to_string();
        let headers = [("Idempotency-Key", key.as_str())];
        let sending = Sending { token: Some(&token), json: Some(body), headers: &headers };
        self.house.send(Method::POST, path, sending).await
    }
}

pub fn coach(district: &str) -> Role {
    Role::Coach(vec![district.parse().expect("a code")])
}

pub fn manager(store: &str) -> Role {
    Role::Manager(vec![store.parse().expect("a code")])
}

pub fn stores(told: &[Value]) -> Vec<(&str, &str)> {
    told.iter()
        .map(|one| (one["store"].as_str().unwrap_or("-"), one["kind"].as_str().unwrap_or("-")))
        .collect()
}
