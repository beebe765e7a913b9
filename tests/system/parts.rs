//! Several people count one night at once, each in other places.

use std::sync::Arc;

use parings::edge::new_id;
use parings_core::access::Role;
use parings_tests::house::{House, Person, Sending};
use parings_tests::night::{count, line, night, of_item, receipt, role, submit};
use parings_tests::reply::Reply;
use parings_tests::{house, network};
use reqwest::Method;
use serde_json::{Value, json};
use tokio::task::JoinSet;

const DATE: &str = "2026-06-15";

struct Scene {
    house: House,
    manager: Person,
}

/// Salt stands in two places and is dear enough that a doubt about it matters.
async fn scene() -> Scene {
    let house = house().await;
    let office = house.person(Role::Office).await;
    let token = &office.token;
    network::start(&house, token).await;
    let salt = json!({ "title": "Salt", "group": "food", "base": "mass",
        "rhythm": { "every": "night" }, "shelves": [
            { "place": "dry-store", "unit": "kg" }, { "place": "cold-room", "unit": "kg" }] });
    network::put(&house, token, "items", "salt", salt).await;
    let manager = house.person(role(Role::Manager, "ford")).await;
    Scene { house, manager }
}

impl Scene {
    async fn post(&self, what: &str, body: &Value) -> Reply {
        let key = new_id().to_string();
        let headers = [("Idempotency-Key", key.as_str())];
        let sending =
            Sending { token: Some(&self.manager.token), headers: &headers, json: Some(body) };
        self.house.send(Method::POST, &format!("{}/{what}", night("ford", DATE)), sending).await
    }

    async fn part(&self, by: &str, lines: &[Value]) -> Reply {
        let body = json!({ "complete": false, "counted_by": [by], "lines": lines });
        self.post("parts", &body).await
    }

    async fn closing(&self) -> Value {
        let found = receipt(&self.house, &self.manager, &night("ford", DATE)).await;
        of_item(&found, "salt")["counted"]["value"].clone()
    }
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn parts_of_two_people_are_one_count() {
    let scene = scene().await;
    scene.part("Ines", &[line("salt", "dry-store", "9", "kg")]).await.expect(201);
    assert_eq!(scene.closing().await, Value::Null, "one shelf of two");
    // The other counted the first shelf as well, alike.
    let lines = [line("salt", "cold-room", "1.5", "kg"), line("salt", "dry-store", "9000", "g")];
    let both = scene.part("Olu", &lines).await.expect(200).json.clone();
    assert_eq!(of_item(&both, "salt")["counted"]["value"], "10.5");
    let lines = both["count"]["lines"].as_array().expect("lines");
    assert_eq!(lines.len(), 2);
}

/// 9 kg and 8 kg in the same place: nothing is lost, and one of the two is chosen.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn where_two_differ_both_are_shown_and_one_is_chosen() {
    let scene = scene().await;
    let first = [line("salt", "dry-store", "9", "kg"), line("salt", "cold-room", "2", "kg")];
    scene.part("Ines", &first).await.expect(201);
    let second = [line("salt", "dry-store", "8", "kg")];
    let held = scene.part("Olu", &second).await.expect(202).json.clone();
    let check = &held["held"]["checks"][0];
    assert_eq!(check["kind"], "two_counters");
    let amounts: Vec<_> = check["readings"]
        .as_array()
        .expect("readings")
        .iter()
        .map(|reading| reading["quantity"]["value"].as_str().expect("a value"))
        .collect();
    assert_eq!(amounts, ["9", "8"]);
    assert_eq!(scene.closing().await, "11", "what is held displaces nothing");

    // Others come before anybody answered: the question stays, and is one.
    let third = [line("salt", "cold-room", "2", "kg")];
    scene.part("Kai", &third).await.expect(202);
    let fourth = [line("salt", "dry-store", "7.5", "kg")];
    let held = scene.part("Uma", &fourth).await.expect(202).json.clone();
    let checks = held["held"]["checks"].as_array().expect("checks");
    let check = &checks[0];
    assert_eq!(checks.len(), 1);
    assert_eq!(check["says"], "two or more counted Salt in Dry store: 9 kg, or 8 kg, or 7.5 kg?");
    let answer = json!({ "check": check["id"], "answer": "other_reading", "reading": 1 });
    let body = json!({ "revision": held["held"]["revision"], "answers": [answer] });
    scene.post("confirmations", &body).await.expect(200);
    assert_eq!(scene.closing().await, "10");
}

/// Eight people send a part at the same moment: whatever the order, nothing is lost.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn parts_that_come_at_once_are_all_there() {
    let scene = scene().await;
    let places = ["dry-store", "cold-room"];
    let scene = Arc::new(scene);
    let mut parts = JoinSet::new();
    for n in 0..8 {
        let (scene, lines) = (Arc::clone(&scene), [line("salt", places[n % 2], "3", "kg")]);
        parts.spawn(async move { scene.part(&format!("Counter {n}"), &lines).await.status });
    }
    let mut statuses: Vec<u16> = parts.join_all().await.iter().map(|s| s.as_u16()).collect();
    statuses.sort_unstable();
    assert_eq!(statuses, [200, 200, 200, 200, 200, 200, 200, 201]);
    assert_eq!(scene.closing().await, "6");
}

/// A part adds to a count that was sent whole; it takes nothing away from it.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_part_adds_to_a_whole_count() {
    let scene = scene().await;
    let lines = [line("salt", "dry-store", "9", "kg")];
    let mut whole = count(&lines);
    whole["complete"] = json!(false);
    submit(&scene.house, &scene.manager, &night("ford", DATE), &whole).await;
    scene.part("Olu", &[line("salt", "cold-room", "1", "kg")]).await.expect(200);
    assert_eq!(scene.closing().await, "10");
    let none = json!({ "complete": false, "lines": [] });
    let refused = scene.post("parts", &none).await.expect(422).json.clone();
    assert_eq!(refused["errors"][0]["pointer"], "/lines");
}
