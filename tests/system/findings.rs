//! What the server finds by itself, and whom it tells. Scenes are tallies put on record; all invented.

use chrono::{DateTime, NaiveDate, TimeDelta, Utc};
use parings::app::nightly;
use parings::cluster::SUPERUSER;
use parings::edge::new_id;
use parings_core::access::Role;
use parings_tests::house::{House, Sending, house};
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
fn last() -> NaiveDate {
    NaiveDate::from_ymd_opt(2026, 6, 20).expect("a date")
}

fn rows((place, store, district): (i64, &str, &str), back: i64, beyond: f64) -> (Value, Value) {
    let date = last() - TimeDelta::days(back);
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
    let over = (2_000_000.0 * beyond).round() as i64;
    let night = with(json!({
        "counted": true, "sales_source": "feed", "sales": 40_000_000, "units": 400,
        "wasted_cost": 30_000 + 1_000 * ((back * 13 + place * 17 + back * (place + 3) % 7 * 5) % 29),
    }));
    let span = with(json!({
        "item_id": "potato", "opened_on": date - TimeDelta::days(1), "nights": 1,
        "used": 200_000_000 + 100 * over, "used_cost": 2_000_000 + over,
        "expected": 200_000_000, "expected_cost": 2_000_000, "variance_cost": over,
        "sales": 40_000_000,
    }));
    (night, span)
}

struct Scene {
    house: House,
}

impl Scene {
    /// Fourteen stores that take 3 to 5 % more than they should, each by its own swing; since twelve
    /// nights ford takes 10 points more, and last night north-gate took 50 points more.
    async fn set() -> Self {
        let house = house().await;
        let pg = house.pg(SUPERUSER).await;
        reference(&pg, &STORES.map(|(store, district)| (store, district, "2026-01-01"))).await;
        let (mut nights, mut spans) = (Vec::new(), Vec::new());
        for (place, (store, district)) in (0..).zip(STORES) {
            for back in 0..112 {
                let swing = ((back * 7 + place * 5) % 11) as f64 / 500.0;
                let more = match store {
                    "ford" if back < 12 => 0.10,
                    "north-gate" if back == 0 => 0.50,
                    _ => 0.0,
                };
                let (night, span) = rows((place, store, district), back, 0.03 + swing + more);
                nights.push(night);
                spans.push(span);
            }
        }
        put(&pg, "night_tallies", nights).await;
        put(&pg, "item_spans", spans).await;
        let scene = Self { house };
        // Six in the morning in Berlin: the night is over, by an hour.
        scene.at("2026-06-21T04:00:00Z");
        scene
    }

    fn at(&self, moment: &str) {
        let moment: DateTime<Utc> = moment.parse().expect("a moment");
        self.house.clock.set(moment);
    }

    async fn look(&self) -> usize {
        nightly::look(&self.house.deps).await.expect("a look")
    }

    async fn told(&self, role: Role, query: &str) -> Vec<Value> {
        let token = self.house.token(&self.house.person(role).await);
        let reply = self.house.get(&format!("/v1/findings{query}"), Some(&token)).await;
        reply.expect(200);
        reply.json["items"].as_array().expect("items").clone()
    }
}

fn coach(district: &str) -> Role {
    Role::Coach(vec![district.parse().expect("a code")])
}

fn manager(store: &str) -> Role {
    Role::Manager(vec![store.parse().expect("a code")])
}

fn stores(told: &[Value]) -> Vec<(&str, &str)> {
    told.iter()
        .map(|one| (one["store"].as_str().unwrap_or("-"), one["kind"].as_str().unwrap_or("-")))
        .collect()
}

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
    pg.execute(
        "UPDATE item_spans SET variance_cost = 80000, used_cost = 2080000, used = 208000000
         WHERE store_id = 'ford' AND business_date > '2026-06-08'",
        &[],
    )
    .await
    .expect("worked out again");
    pg.execute(
        "UPDATE night_tallies SET units = units
         WHERE store_id = 'ford' AND business_date > '2026-06-08'",
        &[],
    )
    .await
    .expect("worked out again");
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
    let post = async |role: Role| {
        let token = house.token(&house.person(role).await);
        let key = new_id().to_string();
        let headers = [("Idempotency-Key", key.as_str())];
        let sending = Sending { token: Some(&token), json: Some(&said), headers: &headers };
        house.send(Method::POST, &path, sending).await
    };
    let reply = post(manager("north-gate")).await;
    reply.expect(201);
    assert_eq!(reply.json["answers"][0]["said"], said["said"]);
    post(manager("ford")).await.expect_problem(404, "not-found");
    post(coach("upper")).await.expect_problem(404, "not-found");
    post(coach("lower")).await.expect_problem(403, "forbidden");
    post(Role::Office).await.expect_problem(403, "forbidden");
    // The same note, found again by another review.
    let pg = house.pg(SUPERUSER).await;
    pg.execute("UPDATE night_tallies SET units = units WHERE store_id = 'mill'", &[])
        .await
        .expect("worked out again");
    scene.at("2026-06-21T04:31:00Z");
    assert_eq!(scene.look().await, 1);
    let again = scene.told(manager("north-gate"), "").await.remove(0);
    assert_ne!(again["id"], note["id"]);
    assert_eq!(again["answers"][0]["said"], said["said"]);
}
