//! What the server finds by itself, and whom it tells.

use parings::app::watch::nightly;
use parings::cluster::SUPERUSER;
use parings_core::access::Role;
use parings_core::money::Money;
use parings_core::quantity::Tallied;
use parings_tests::tallies::alter;
use serde_json::{Value, json};

use crate::standing_out::{Scene, coach, manager, stores};

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn who_is_told_what() {
    let scene = Scene::set().await;
    assert_eq!(scene.look().await, 1);
    let upper = scene.told(coach("upper"), "").await;
    assert_eq!(stores(&upper), [("ford", "drift")]);
    let found = &upper[0];
    assert_eq!((&found["measure"], &found["since"]), (&json!("use"), &json!("2026-06-09")));
    let sentence = found["sentence"].as_str().expect("a sentence");
    assert!(sentence.starts_with("Since about 2026-06-09 use"), "{sentence}");
    // A single night is a note to the manager and no more.
    assert_eq!(scene.told(coach("lower"), "").await, [] as [Value; 0]);
    let note = scene.told(manager("north-gate"), "").await;
    assert_eq!(stores(&note), [("north-gate", "one_night")]);
    assert_eq!(note[0].get("money_per_week"), None);
    assert_eq!(scene.told(manager("ford"), "").await, [] as [Value; 0]);
    let owner = Role::Owner(vec!["brook".parse().expect("a code")]);
    assert_eq!(stores(&scene.told(owner, "").await), [("ford", "drift")]);
    let office = scene.told(Role::Office, "").await;
    assert_eq!(stores(&office), [("ford", "drift"), ("north-gate", "one_night")]);
    assert_eq!(stores(&scene.told(Role::Office, "?kind=one_night").await).len(), 1);
    assert_eq!(stores(&scene.told(Role::Office, "?district=lower").await).len(), 1);
    assert_eq!(stores(&scene.told(Role::Office, "?store=ford").await).len(), 1);
    assert_eq!(scene.told(Role::Office, "?as_of=2026-06-19").await.len(), 0);
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_night_is_reviewed_once_and_again_when_one_of_its_nights_changes() {
    let scene = Scene::set().await;
    // Until five in the morning the last night is not over, and the one before it has a review.
    scene.at("2026-06-21T02:59:00Z");
    assert_eq!(scene.look().await, 1);
    assert_eq!(scene.look().await, 0);
    scene.at("2026-06-21T03:00:00Z");
    assert_eq!(scene.look().await, 1);
    assert_eq!(scene.look().await, 0);
    let first = scene.told(coach("upper"), "").await;
    assert_eq!(stores(&first), [("ford", "drift")]);
    // Ford's last nights are worked out again, and were as usual.
    let pg = scene.house.pg(SUPERUSER).await;
    for day in 9..=20 {
        alter(&pg, "ford", &format!("2026-06-{day:02}"), |night| {
            for ended in night.spans.values_mut() {
                ended.span.variance_cost = Some(Money::from_ten_thousandths(80_000));
                ended.span.used_cost = Some(Money::from_ten_thousandths(2_080_000));
                ended.span.used = Tallied::from_thousandths(208_000_000);
            }
        })
        .await;
    }
    scene.at("2026-06-21T03:29:00Z");
    assert_eq!(scene.look().await, 0);
    scene.at("2026-06-21T03:31:00Z");
    assert_eq!(scene.look().await, 1);
    assert_eq!(scene.told(coach("upper"), "").await, [] as [Value; 0]);
    // What was told stays, as it was known then.
    let then = "?as_known_at=2026-06-21T03:15:00Z";
    assert_eq!(scene.told(coach("upper"), then).await, first);
}

#[tokio::test(flavor = "multi_thread", worker_threads = 4)]
async fn of_several_servers_one_looks() {
    let scene = Scene::set().await;
    let deps = &scene.house.deps;
    let (a, b, c) = tokio::join!(nightly::look(deps), nightly::look(deps), nightly::look(deps));
    let made: usize = [a, b, c].into_iter().map(|made| made.expect("a look")).sum();
    assert_eq!(made, 1);
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_manager_answers_a_note_and_the_answer_stays_beside_it() {
    let scene = Scene::set().await;
    scene.look().await;
    let note = scene.told(manager("north-gate"), "").await.remove(0);
    let id = note["id"].as_str().expect("an id");
    let path = format!("/v1/stores/north-gate/findings/{id}/answers");
    let said = json!({ "said": "A pan of potatoes was dropped; it is on no entry." });
    let house = &scene.house;
    let post = async |role: Role| scene.post(role, &path, &said).await;
    let reply = post(manager("north-gate")).await;
    reply.expect(201);
    assert_eq!(reply.json["answers"][0]["said"], said["said"]);
    post(manager("ford")).await.expect_problem(404, "not-found");
    post(coach("upper")).await.expect_problem(404, "not-found");
    post(coach("lower")).await.expect_problem(403, "forbidden");
    post(Role::Office).await.expect_problem(403, "forbidden");
    // The same note, found again by another review.
    let pg = house.pg(SUPERUSER).await;
    alter(&pg, "mill", "2026-06-20", |_| ()).await;
    scene.at("2026-06-21T04:31:00Z");
    assert_eq!(scene.look().await, 1);
    let again = scene.told(manager("north-gate"), "").await.remove(0);
    assert_ne!(again["id"], note["id"]);
    assert_eq!(again["answers"][0]["said"], said["said"]);
}
