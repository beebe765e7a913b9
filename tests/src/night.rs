//! Nights over HTTP: counts, entries and sales as short as a test can say them.

use parings::edge::new_id;
use parings_core::access::Role;
use reqwest::Method;
use serde_json::{Value, json};

use crate::house::{House, Person, Sending};
use crate::network::CREATE;
use crate::reply::Reply;

/// An amount as typed.
pub fn typed(value: &str, unit: &str) -> Value {
    json!({ "value": value, "unit": unit })
}

/// A line of a count: item, place, value and unit.
pub fn line(item: &str, place: &str, value: &str, unit: &str) -> Value {
    json!({ "item": item, "place": place, "quantity": typed(value, unit) })
}

/// A line of a count at a stage.
pub fn staged(item: &str, place: &str, stage: &str, value: &str, unit: &str) -> Value {
    with(line(item, place, value, unit), "stage", stage)
}

/// The document with one more member.
pub fn with(mut document: Value, member: &str, value: impl Into<Value>) -> Value {
    document[member] = value.into();
    document
}

/// A complete count under an id of its own.
pub fn count(lines: &[Value]) -> Value {
    json!({ "submission_id": new_id(), "complete": true, "lines": lines })
}

/// An entry of a kind under an id of its own: `more` has its other members.
pub fn entry(kind: &str, item: &str, more: Value) -> Value {
    let mut entry = json!({ "id": new_id(), "kind": kind, "item": item });
    let members = entry.as_object_mut().expect("an object");
    members.extend(more.as_object().expect("members").clone());
    entry
}

/// Potatoes delivered.
pub fn delivery(value: &str, unit: &str) -> Value {
    entry("delivery", "potato", json!({ "quantity": typed(value, unit) }))
}

/// Where a night is.
pub fn night(store: &str, date: &str) -> String {
    format!("/v1/stores/{store}/nights/{date}")
}

/// Submits a night that has no count yet, and answers with its receipt.
pub async fn submit(house: &House, by: &Person, path: &str, body: &Value) -> Value {
    house.put(path, Some(&by.token), &[CREATE], body).await.expect(201).json.clone()
}

/// Amends a night's count, whatever its revision, and answers with its receipt.
pub async fn amend(house: &House, by: &Person, path: &str, body: &Value) -> Value {
    let body = with(body.clone(), "reason", "Counted again");
    let any = ("If-Match", "*");
    house.put(path, Some(&by.token), &[any], &body).await.expect(200).json.clone()
}

/// Reads a receipt.
pub async fn receipt(house: &House, by: &Person, path: &str) -> Value {
    house.get(path, Some(&by.token)).await.expect(200).json.clone()
}

/// An item of a receipt.
#[track_caller]
pub fn of_item<'a>(receipt: &'a Value, item: &str) -> &'a Value {
    let items = receipt["items"].as_array().expect("items");
    items.iter().find(|i| i["item"] == item).unwrap_or_else(|| panic!("no {item}: {receipt}"))
}

/// Records entries.
pub async fn record(house: &House, by: &Person, store: &str, date: &str, all: &[Value]) -> Reply {
    let body = json!({ "business_date": date, "entries": all });
    post(house, by, &format!("/v1/stores/{store}/entries"), &body).await
}

/// Withdraws an entry.
pub async fn withdraw(house: &House, by: &Person, store: &str, entry: &Value) -> Reply {
    let id = entry["id"].as_str().expect("an id");
    let path = format!("/v1/stores/{store}/entries/{id}/withdraw");
    post(house, by, &path, &json!({ "reason": "Typed twice" })).await
}

/// Posts under a key of its own.
async fn post(house: &House, by: &Person, path: &str, body: &Value) -> Reply {
    let key = new_id().to_string();
    let headers = [("Idempotency-Key", key.as_str())];
    let sending = Sending { token: Some(&by.token), headers: &headers, json: Some(body) };
    house.send(Method::POST, path, sending).await
}

/// Sends a batch of sales, each a code, units and money, under an id of its own.
pub async fn feed(
    house: &House,
    by: &Person,
    store: &str,
    date: &str,
    sales: &[(&str, u32, &str)],
) -> Reply {
    let sale = |(code, units, net): &(&str, u32, &str)| json!({ "code": code, "units": units, "net": net });
    let sales: Vec<_> = sales.iter().map(sale).collect();
    let body = json!({ "batch_id": new_id().to_string(), "business_date": date, "sales": sales });
    house.post(&format!("/v1/stores/{store}/till-batches"), Some(&by.token), &body).await
}

/// A role with one place.
pub fn role<T: std::str::FromStr<Err: std::fmt::Debug>>(
    make: fn(Vec<T>) -> Role,
    at: &str,
) -> Role {
    make(vec![at.parse().expect(at)])
}
