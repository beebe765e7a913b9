//! Where counts go wrong in real life, each corner end to end over HTTP: receipt and roll-up. All
//! stores and amounts are invented, and every expected figure is worked out by hand beside it.
//!
//! Tests of other modules hold further corners: open-ended stock-outs of days of 23 and 25 hours,
//! and spans in general in `spans`, pins in `restatements`, feeds in `till`.

mod changed;
mod clocks;
mod flood;
mod missed;
mod moved;
mod together;
mod unmapped;
mod wide;

use chrono::{DateTime, Utc};
use parings::cluster::roles::OWNER;
use parings::db::migrate;
use parings_core::access::Role;
use parings_tests::house::{House, Person};
use parings_tests::night::{
    count, feed, line, night, of_item, receipt, record, role, submit, typed, with,
};
use parings_tests::{Reply, house, network};
use serde_json::{Value, json};

pub fn moment(text: &str) -> DateTime<Utc> {
    text.parse().expect(text)
}

/// A network that counts potatoes in kilograms in one place, at 1.00 a kilogram, and sells fries of
/// 200 g as purchased under the code 1001: 100 sold are 20 kg expected. Ford (upper, brook) and
/// weir (lower, hill) are open on all days but Sunday.
struct Kitchen {
    house: House,
    office: Person,
}

impl Kitchen {
    /// Opens at a moment of 2026; nights from March to November may be recorded.
    async fn open(now: &str) -> Self {
        let house = house().await;
        let owner = house.database.url(OWNER);
        let november = moment("2026-11-01T00:00:00Z").date_naive();
        migrate::make_partitions(&owner, november, 9).await.expect("room");
        house.clock.set(moment("2026-01-10T12:00:00Z"));
        let office = house.person(Role::Office).await;
        network::start(&house, &office.token).await;
        let kitchen = Self { house, office };
        let shelves = json!([{ "place": "dry-store", "unit": "kg" }]);
        let potato = with(network::potato(), "shelves", shelves);
        kitchen.change("items", "potato", "2026-01-02", potato).await.expect(200);
        kitchen.change("products", "fries", "2026-01-02", fries("200")).await.expect(200);
        kitchen.put("prices", "potato", price("1.00")).await;
        kitchen.house.clock.set(moment(now));
        kitchen
    }

    /// Puts a new document in force from the start of the year.
    async fn put(&self, kind: &str, code: &str, document: Value) {
        network::put(&self.house, &self.office.token, kind, code, document).await;
    }

    /// Changes a document from a date on.
    async fn change(&self, kind: &str, code: &str, from: &str, document: Value) -> Reply {
        let path = format!("/v1/reference/{kind}/{code}");
        let body = with(network::change(from, document), "reason", "For the test");
        self.house.put(&path, Some(&self.office.token), &[("If-Match", "*")], &body).await
    }

    /// A complete count of potatoes alone, for a date without one.
    async fn count(&self, store: &str, date: &str, kg: &str) -> Value {
        self.lines(store, date, &[line("potato", "dry-store", kg, "kg")]).await
    }

    async fn lines(&self, store: &str, date: &str, lines: &[Value]) -> Value {
        submit(&self.house, &self.office, &night(store, date), &count(lines)).await
    }

    async fn sold(&self, store: &str, date: &str, units: u32) {
        let sales = [("1001", units, "100.00")];
        feed(&self.house, &self.office, store, date, &sales).await.expect(201);
    }

    async fn record(&self, store: &str, date: &str, entries: &[Value]) {
        record(&self.house, &self.office, store, date, entries).await.expect(201);
    }

    async fn receipt(&self, store: &str, date: &str) -> Value {
        receipt(&self.house, &self.office, &night(store, date)).await
    }

    /// What the receipt of a night says of an item's span; see [`said`].
    async fn span(&self, store: &str, date: &str, item: &str) -> String {
        said(of_item(&self.receipt(store, date).await, item))
    }

    async fn person<T: std::str::FromStr<Err: std::fmt::Debug>>(
        &self,
        make: fn(Vec<T>) -> Role,
        at: &str,
    ) -> Person {
        self.house.person(role(make, at)).await
    }

    /// The rows of a roll-up, as somebody is answered.
    async fn rows(&self, by: &Person, scope: &str, from: &str, to: &str) -> Vec<Value> {
        let path = format!("/v1/rollups?scope={scope}&from={from}&to={to}");
        let reply = self.house.get(&path, Some(&by.token)).await;
        reply.expect(200).json["rows"].as_array().expect("rows").clone()
    }

    /// The one row of a roll-up, as head office is answered.
    async fn rollup(&self, scope: &str, from: &str, to: &str) -> Value {
        self.rows(&self.office, scope, from, to).await.remove(0)
    }
}

fn fries(grams: &str) -> Value {
    let line = json!({ "item": "potato", "quantity": typed(grams, "g") });
    let size =
        json!({ "code": "one", "title": "One size", "till_codes": ["1001"], "lines": [line] });
    json!({ "title": "Fries", "sizes": [size] })
}

fn price(a_kilogram: &str) -> Value {
    json!({ "price": a_kilogram, "per": typed("1", "kg") })
}

fn words(of: &Value, pointers: &[&str]) -> String {
    let text = |pointer: &&str| match of.pointer(pointer) {
        None | Some(Value::Null) => "-".to_owned(),
        Some(Value::String(text)) => text.clone(),
        Some(other) => other.to_string(),
    };
    pointers.iter().map(text).collect::<Vec<_>>().join(" ")
}

/// What a receipt says of an item: what is known, then the span's start, nights, used, expected,
/// variance, and cost of what was used.
fn said(item: &Value) -> String {
    let figures = [
        "/known",
        "/usage/since",
        "/usage/nights",
        "/usage/used/value",
        "/usage/expected/value",
        "/usage/variance/total/amount/value",
        "/usage/used_cost",
    ];
    words(item, &figures)
}

/// Nights of a roll-up's row: expected, counted, partial, missing, closed, left out.
fn nights(row: &Value) -> String {
    let kinds = ["expected", "counted", "partial", "missing", "closed", "left_out"];
    words(&row["nights"], &kinds.map(|kind| format!("/{kind}")).each_ref().map(String::as_str))
}

/// What a roll-up's row says of an item: used with its nights and cost, expected, variance with its
/// nights.
#[track_caller]
fn rolled(row: &Value, item: &str) -> String {
    let mut items = row["items"].as_array().into_iter().flatten();
    let Some(found) = items.find(|i| i["item"] == item) else { return "nothing".to_owned() };
    let figures = [
        "/used/amount/value",
        "/used/nights",
        "/used/cost",
        "/variance/expected/value",
        "/variance/amount/value",
        "/variance/nights",
    ];
    words(found, &figures)
}
