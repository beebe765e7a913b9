//! Changes of a night after its lock, over HTTP: proposed, and decided by another person.

use parings_core::access::Role;
use parings_tests::house::{House, Person};
use parings_tests::network::{CREATE, put_limits};
use parings_tests::night::{
    count, delivery, feed, line, night, of_item, receipt, record, role, staged, with, withdraw,
};
use parings_tests::waiting::{decide, open, revisions};
use parings_tests::{house, network};
use serde_json::{Value, json};

// 20:00 UTC on 15 June: the business day of the 11th ended at 03:00 UTC on the 12th, 89 hours ago.
const LOCKED: &str = "2026-06-11";
const OPEN: &str = "2026-06-12";

struct Scene {
    house: House,
    manager: Person,
    other: Person,
    coach: Person,
}

async fn scene() -> Scene {
    let house = house().await;
    let office = house.person(Role::Office).await;
    network::start(&house, &office.token).await;
    put_limits(&house, &office.token, &json!({ "lock_hours": 72 })).await;
    let manager = house.person(role(Role::Manager, "ford")).await;
    let other = house.person(role(Role::Manager, "ford")).await;
    let coach = house.person(role(Role::Coach, "upper")).await;
    Scene { house, manager, other, coach }
}

fn bags(value: &str) -> Value {
    count(&[
        line("potato", "dry-store", value, "bag"),
        staged("potato", "cold-room", "trim", "0", "kg"),
    ])
}

fn locked() -> String {
    night("ford", LOCKED)
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn after_the_lock_a_count_waits_for_another_person() {
    let Scene { house, manager, other, coach } = scene().await;
    let body = with(bags("4"), "entries", json!([delivery("2", "bag")]));
    let proposed = house.put(&locked(), Some(&manager.token), &[CREATE], &body).await;
    assert_eq!(proposed.expect(202).json["proposed"]["revision"], 1);
    assert_eq!(proposed.json["proposed"]["entries"], 1);
    assert!(proposed.json.get("count").is_none() && proposed.json.get("held").is_none());
    assert_eq!(open(&house).await, 0, "no opening settles a proposal");

    let own = decide(&house, &manager, &locked(), 1, true).await;
    let said = own.expect_problem(403, "forbidden").text.clone();
    assert!(said.contains("proposed themselves"), "{said}");
    let weir = house.person(role(Role::Manager, "weir")).await;
    decide(&house, &weir, &locked(), 1, true).await.expect_problem(404, "not-found");

    // The coach approves, and everything is made in the proposer's name.
    let done = decide(&house, &coach, &locked(), 1, true).await;
    assert_eq!(done.expect(200).json["count"]["revision"], 1);
    assert_eq!(of_item(&done.json, "potato")["known"], "baseline");
    let entries = format!("/v1/stores/ford/entries?business_date={LOCKED}");
    let found = house.get(&entries, Some(&manager.token)).await;
    let made = &found.expect(200).json["items"][0];
    assert_eq!(made["recorded_by"]["id"], json!(manager.id.0), "{}", found.text);
    let all = revisions(&house, &other, &locked()).await;
    assert_eq!(all[0]["settlement"]["outcome"], "accepted");
    // That somebody above the store approved is told to its people, and not who.
    assert!(all[0]["settlement"].get("settled_by").is_none(), "{all:?}");
    decide(&house, &other, &locked(), 1, false).await.expect_problem(409, "conflict");
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn declined_it_changes_nothing_and_a_later_proposal_takes_its_place() {
    let Scene { house, manager, other, .. } = scene().await;
    let first = house.put(&locked(), Some(&manager.token), &[CREATE], &bags("4")).await;
    first.expect(202);
    let tag = ("If-Match", "\"r1\"");
    let second = with(bags("5"), "reason", "One more bag was in the yard");
    let second = house.put(&locked(), Some(&manager.token), &[tag], &second).await;
    assert_eq!(second.expect(202).json["proposed"]["revision"], 2);
    decide(&house, &other, &locked(), 1, true).await.expect_problem(409, "conflict");
    let no = decide(&house, &other, &locked(), 2, false).await;
    assert!(no.expect(200).json.get("count").is_none());
    let all = revisions(&house, &other, &locked()).await;
    let outcomes: Vec<_> = all.iter().map(|r| &r["settlement"]["outcome"]).collect();
    assert_eq!(outcomes, ["overtaken", "declined"]);
    assert_eq!(all[1]["settlement"]["reason"], "Seen on the sheet");
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn entries_of_a_locked_night_go_with_an_amendment() {
    let Scene { house, manager, other, .. } = scene().await;
    let made = delivery("2", "bag");
    record(&house, &manager, "ford", OPEN, std::slice::from_ref(&made)).await.expect(201);
    house.put(&night("ford", OPEN), Some(&manager.token), &[CREATE], &bags("4")).await.expect(201);
    house.clock.set(house.clock.now() + chrono::TimeDelta::days(1));

    let refused = record(&house, &manager, "ford", OPEN, &[delivery("1", "bag")]).await;
    let said = refused.expect_problem(409, "conflict").text.clone();
    assert!(said.contains("with an amendment of its count"), "{said}");
    withdraw(&house, &manager, "ford", &made).await.expect_problem(409, "conflict");
    // The till is no person who could be asked.
    let till = house.person(role(Role::Till, "ford")).await;
    feed(&house, &till, "ford", OPEN, &[("1", 3, "9.00")]).await.expect(201);

    let gone = json!([{ "id": made["id"], "reason": "It came to weir" }]);
    let body = with(with(bags("4"), "withdraw", gone), "reason", "The delivery was not ours");
    let (any, path) = (("If-Match", "*"), night("ford", OPEN));
    let proposed = house.put(&path, Some(&manager.token), &[any], &body).await;
    assert_eq!(proposed.expect(202).json["proposed"]["withdrawals"], 1);
    let before = receipt(&house, &manager, &path).await;
    assert_eq!(before["count"]["revision"], 1, "a proposal displaces nothing");
    decide(&house, &other, &path, 2, true).await.expect(200);
    let entries = format!("/v1/stores/ford/entries?business_date={OPEN}");
    let found = house.get(&entries, Some(&manager.token)).await;
    let withdrawn = &found.expect(200).json["items"][0]["withdrawn"];
    assert_eq!(withdrawn["by"]["id"], json!(manager.id.0), "{}", found.text);
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn before_the_lock_a_withdrawal_with_the_count_is_done_at_once() {
    let Scene { house, manager, .. } = scene().await;
    let made = delivery("2", "bag");
    record(&house, &manager, "ford", OPEN, std::slice::from_ref(&made)).await.expect(201);
    let gone = json!([{ "id": made["id"], "reason": "It came to weir" }]);
    let path = night("ford", OPEN);
    let body = with(bags("4"), "withdraw", gone);
    house.put(&path, Some(&manager.token), &[CREATE], &body).await.expect(201);
    let again = with(with(bags("4"), "withdraw", body["withdraw"].clone()), "reason", "Twice");
    let again = house.put(&path, Some(&manager.token), &[("If-Match", "*")], &again).await;
    assert_eq!(again.expect_problem(422, "invalid").pointers(), ["/withdraw/0/id"]);
}
