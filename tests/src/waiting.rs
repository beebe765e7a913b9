//! Counts that wait: held ones and their answers, proposed ones and the word of another person.

use parings::app::night::openings;
use parings::edge::new_id;
use reqwest::Method;
use serde_json::{Value, json};

use crate::house::{House, Person, Sending};
use crate::reply::Reply;

/// Posts under a key.
pub async fn post(house: &House, by: &Person, path: &str, key: &str, body: &Value) -> Reply {
    let headers = [("Idempotency-Key", key)];
    let sending = Sending { token: Some(&by.token), headers: &headers, json: Some(body) };
    house.send(Method::POST, path, sending).await
}

/// Answers what was asked about a revision, under a key of its own.
pub async fn confirm(
    house: &House,
    by: &Person,
    night: &str,
    revision: i32,
    answers: Value,
) -> Reply {
    let body = json!({ "revision": revision, "answers": answers });
    post(house, by, &format!("{night}/confirmations"), &new_id().to_string(), &body).await
}

/// Decides on a proposed revision, under a key of its own.
pub async fn decide(house: &House, by: &Person, night: &str, revision: i32, yes: bool) -> Reply {
    let body = json!({ "revision": revision, "approve": yes, "reason": "Seen on the sheet" });
    post(house, by, &format!("{night}/approvals"), &new_id().to_string(), &body).await
}

/// An answer that needs nothing more.
pub fn answer(check: &str, answer: &str) -> Value {
    json!({ "check": check, "answer": answer })
}

/// Settles what waits for an opening, by the house's clock.
pub async fn open(house: &House) -> usize {
    openings::settle(&house.deps).await.expect("held counts settled")
}

/// The ids of the questions that are open in a receipt.
#[track_caller]
pub fn asked(receipt: &Value) -> Vec<&str> {
    let checks = receipt["held"]["checks"].as_array();
    let checks = checks.unwrap_or_else(|| panic!("nothing is held: {receipt}"));
    checks.iter().map(|check| check["id"].as_str().expect("an id")).collect()
}

/// The revisions of a night.
pub async fn revisions(house: &House, by: &Person, night: &str) -> Vec<Value> {
    let found = house.get(&format!("{night}/revisions"), Some(&by.token)).await;
    found.expect(200).json.as_array().expect("revisions").clone()
}
