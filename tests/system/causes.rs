//! Why a finding may be, over HTTP. The scene is tallies put on record; all invented.

use parings_core::access::Role;
use serde_json::{Value, json};

use crate::standing_out::{Scene, coach, manager};

const ASKED: &str = "/v1/stores/ford/causes?measure=use&since=2026-06-09&as_of=2026-06-20";

fn of<'a>(answer: &'a Value, cause: &str) -> &'a Value {
    let causes = answer["causes"].as_array().expect("causes");
    causes.iter().find(|one| one["cause"] == cause).unwrap_or_else(|| panic!("{cause}: {answer}"))
}

/// Ford takes 10 points more since the 9th, all of it potatoes, and writes no more waste down.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn causes_are_told_with_what_speaks_for_and_against_them() {
    let scene = Scene::set().await;
    let written = json!({
        "kind": "new_scale", "from": "2026-06-08", "said": "A new scale at the counter.",
    });
    scene.post(manager("ford"), "/v1/stores/ford/diary", &written).await.expect(201);
    let reply = scene.get(coach("upper"), ASKED).await;
    reply.expect(200);
    let answer = &reply.json;
    assert_eq!(answer["causes"][0]["cause"], "count", "a fault of the count is considered first");
    let leads = json!("One item makes up most of it, Potatoes: how is it counted?");
    let speaks_for = answer["causes"][0]["speaks_for"].as_array().expect("sentences");
    assert!(speaks_for.contains(&leads), "{speaks_for:?}");
    let portions = of(answer, "portions");
    let part: f64 = portions["part"]["value"].as_str().expect("a part").parse().expect("a number");
    assert!((part - 0.10).abs() < 0.01, "{portions}");
    let says = portions["speaks_for"][0].as_str().expect("words");
    assert!(says.starts_with("More is used that no recorded waste explains: +"), "{says}");
    assert_eq!(of(answer, "waste")["speaks_for"], json!([]));
    let changed = of(answer, "change")["speaks_for"][0].as_str().expect("words");
    assert!(changed.ends_with("the diary says: A new scale at the counter."), "{changed}");
    assert_eq!(answer["look_at"].as_array().map(Vec::len), Some(3));
    // Every figure opens to its rows.
    for address in portions["rows"].as_array().expect("addresses") {
        let address = address.as_str().expect("an address");
        scene.get(coach("upper"), address).await.expect(200);
    }
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn who_may_ask_why() {
    let scene = Scene::set().await;
    scene.get(Role::Office, ASKED).await.expect(200);
    scene.get(coach("lower"), ASKED).await.expect_problem(404, "not-found");
    scene.get(manager("ford"), ASKED).await.expect_problem(403, "forbidden");
    let path = |query: &str| format!("/v1/stores/ford/causes?{query}");
    for (query, pointer) in [
        ("measure=speed&since=2026-06-09", "/measure"),
        ("measure=use&since=2026-06-21&as_of=2026-06-20", "/since"),
        ("measure=use&since=2025-06-21&as_of=2026-06-20", "/since"),
        ("measure=use&since=2026-06-09&as_of=2036-06-20", "/as_of"),
    ] {
        let reply = scene.get(coach("upper"), &path(query)).await;
        reply.expect_problem(422, "invalid");
        assert_eq!(reply.pointers(), [pointer], "{query}");
    }
    scene.get(coach("upper"), &path("measure=use")).await.expect_problem(400, "unreadable");
}
