//! The diary of a store, and nights that it sets aside.

use parings_core::access::Role;
use serde_json::{Value, json};

use crate::standing_out::{Scene, coach, manager};

const DIARY: &str = "/v1/stores/ford/diary";
const READ: &str = "/v1/stores/ford/diary?from=2026-06-01&to=2026-06-30";

fn fair(sets_aside: bool) -> Value {
    json!({ "kind": "event", "from": "2026-06-09", "to": "2026-06-20", "sets_aside": sets_aside,
        "said": "A street fair; the menu was larger." })
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn who_writes_and_who_reads() {
    let scene = Scene::set().await;
    let owner = || Role::Owner(vec!["brook".parse().expect("a code")]);
    let written = scene.post(manager("ford"), DIARY, &fair(false)).await;
    written.expect(201);
    scene.post(manager("ford"), DIARY, &fair(true)).await.expect_problem(403, "forbidden");
    scene.post(owner(), DIARY, &fair(false)).await.expect_problem(403, "forbidden");
    scene.post(coach("lower"), DIARY, &fair(false)).await.expect_problem(404, "not-found");
    scene.post(coach("upper"), DIARY, &fair(true)).await.expect(201);
    for role in [manager("ford"), coach("upper"), owner(), Role::Office] {
        assert_eq!(scene.listed(role, READ).await.len(), 2);
    }
    scene.get(manager("mill"), READ).await.expect_problem(404, "not-found");
    // In pages, one after the other.
    let first = scene.get(Role::Office, &format!("{READ}&limit=1")).await;
    let next = first.json["next"].as_str().expect("another page").to_owned();
    let second = scene.get(Role::Office, &format!("{READ}&limit=1&after={next}")).await;
    assert_eq!(second.json["items"].as_array().map(Vec::len), Some(1));
    assert_eq!(second.json.get("next"), None);
    assert_ne!(first.json["items"][0]["id"], second.json["items"][0]["id"]);
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn what_cannot_be_written_is_told() {
    let scene = Scene::set().await;
    let wrong = json!({ "kind": "weather", "from": "2026-06-09", "to": "2026-06-08", "said": " " });
    let reply = scene.post(manager("ford"), DIARY, &wrong).await;
    reply.expect_problem(422, "invalid");
    assert_eq!(reply.pointers(), ["/kind", "/to", "/said"]);
    let far = json!({ "kind": "event", "from": "2027-06-09", "said": "A fair" });
    let reply = scene.post(manager("ford"), DIARY, &far).await;
    reply.expect_problem(422, "invalid");
    assert_eq!(reply.pointers(), ["/from"]);
}

/// The twelve nights in which ford took more are set aside: no review looks at them, and looks again
/// when the entry is withdrawn.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn nights_set_aside_are_in_no_review_until_the_entry_is_withdrawn() {
    let scene = Scene::set().await;
    let entry = scene.post(coach("upper"), DIARY, &fair(true)).await;
    entry.expect(201);
    scene.look().await;
    assert_eq!(scene.told(coach("upper"), "").await, [] as [Value; 0]);
    assert_eq!(scene.listed(coach("upper"), "/v1/cases").await.len(), 0);
    let review = scene.get(coach("upper"), "/v1/districts/upper/review?as_of=2026-06-20").await;
    let stores = review.json["stores"].as_array().expect("stores");
    let ford = stores.iter().find(|store| store["store"] == "ford").expect("ford");
    assert_eq!(ford["nights"]["left_out"], 12, "{ford}");

    let id = entry.json["id"].as_str().expect("an id");
    let path = format!("{DIARY}/{id}/withdraw");
    let why = json!({ "reason": "It was in another street." });
    scene.post(manager("ford"), &path, &why).await.expect_problem(403, "forbidden");
    let withdrawn = scene.post(coach("upper"), &path, &why).await;
    withdrawn.expect(200);
    assert_eq!(withdrawn.json["withdrawn"], why["reason"]);
    scene.post(coach("upper"), &path, &why).await.expect_problem(409, "conflict");
    scene.at("2026-06-21T04:31:00Z");
    assert_eq!(scene.look().await, 1);
    assert_eq!(scene.told(coach("upper"), "").await.len(), 1);
    assert_eq!(scene.listed(coach("upper"), "/v1/cases").await.len(), 1);
}
