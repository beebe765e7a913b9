//! Revisions of a night over HTTP: who, when and why, and what differs between any two.

use parings_core::access::Role;
use parings_tests::network;
use parings_tests::night::{amend, count, line, night, role, staged, submit, with};
use parings_tests::waiting::revisions;
use parings_tests::{house, house::House};
use serde_json::{Value, json};

const DATE: &str = "2026-06-15";

fn counted(bags: &str, trimmed: Option<&str>, units: u32) -> Value {
    let mut lines = vec![line("potato", "dry-store", bags, "bag")];
    lines.extend(trimmed.map(|kg| staged("potato", "cold-room", "trim", kg, "kg")));
    let sold = json!([{ "product": "fries", "size": "one", "units": units }]);
    let body = with(with(count(&lines), "complete", trimmed.is_some()), "units_sold", sold);
    with(body, "device_time", "2026-06-15T19:58:00Z")
}

async fn scene() -> (House, [parings_tests::house::Person; 2]) {
    let house = house().await;
    let office = house.person(Role::Office).await;
    network::start(&house, &office.token).await;
    let manager = house.person(role(Role::Manager, "ford")).await;
    let coach = house.person(role(Role::Coach, "upper")).await;
    let path = night("ford", DATE);
    submit(&house, &manager, &path, &counted("4", None, 10)).await;
    amend(&house, &manager, &path, &counted("4", Some("9"), 10)).await;
    amend(&house, &manager, &path, &with(counted("3", Some("9"), 12), "net_sales", "99.50")).await;
    (house, [manager, coach])
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn who_when_why_and_by_which_clock() {
    let (house, [manager, coach]) = scene().await;
    let path = night("ford", DATE);
    let all = revisions(&house, &manager, &path).await;
    let states: Vec<_> = all.iter().map(|r| &r["state"]).collect();
    assert_eq!(states, ["accepted"; 3]);
    assert_eq!(all[1]["reason"], "Counted again");
    assert_eq!(all[0]["submitted_by"]["id"], json!(manager.id.0));
    assert_eq!(all[0]["submitted_by"]["name"], "Somebody");
    assert_eq!(all[0]["device_time"], "2026-06-15T19:58:00Z");
    assert_eq!(all[0]["recorded_at"], "2026-06-15T20:00:00Z");
    // Names go no higher than the manager.
    let above = revisions(&house, &coach, &path).await;
    assert!(above.iter().all(|revision| revision.get("submitted_by").is_none()));
}

/// 4 bags to 3 is one bag of 22.68 kg less; 9 kg trimmed at the standard yield of 0.90 is 10 kg as
/// purchased. Recomputed by hand.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn what_differs_between_any_two() {
    let (house, [manager, _]) = scene().await;
    let path = format!("{}/revisions/diff", night("ford", DATE));
    let between = async |from: i32, to: i32| {
        house.get(&format!("{path}?from={from}&to={to}"), Some(&manager.token)).await
    };
    let found = between(1, 3).await;
    let lines = found.expect(200).json["lines"].as_array().expect("lines").clone();
    assert_eq!(lines.len(), 2);
    assert_eq!((&lines[0]["place"], &lines[0]["change"]), (&json!("cold-room"), &json!("added")));
    assert_eq!(lines[0]["difference"], json!({ "value": "10", "unit": "kg" }));
    assert_eq!((&lines[1]["place"], &lines[1]["change"]), (&json!("dry-store"), &json!("changed")));
    assert_eq!(lines[1]["before"], json!([{ "value": "4", "unit": "bag" }]));
    assert_eq!(lines[1]["after"], json!([{ "value": "3", "unit": "bag" }]));
    assert_eq!(lines[1]["difference"], json!({ "value": "-22.68", "unit": "kg" }));
    assert_eq!(found.json["units_sold"][0]["before"], 10);
    assert_eq!(found.json["units_sold"][0]["after"], 12);
    assert_eq!(found.json["net_sales"], json!({ "after": "99.50" }));
    let back = between(2, 1).await;
    assert_eq!(back.expect(200).json["lines"][0]["change"], "removed");
    assert_eq!(between(2, 2).await.expect(200).json["lines"], json!([]));
    between(1, 9).await.expect_problem(404, "not-found");
}
