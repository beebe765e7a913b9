//! A store that moves to another district, or is sold: what was found and done about it stays where it
//! was, and the new place begins with the nights since. Tallies are put on record; all invented.

use parings::cluster::SUPERUSER;
use parings_core::access::Role;
use serde_json::{Value, json};

use crate::standing_out::{Scene, coach, manager};

fn owner(code: &str) -> Role {
    Role::Owner(vec![code.parse().expect("a code")])
}

/// From this business date on ford stands in that district, and that owner holds it.
async fn ford_goes(scene: &Scene, from: &str, district: &str, owner: &str) {
    let pg = scene.house.pg(SUPERUSER).await;
    let sql = format!(
        "INSERT INTO reference_versions
           (kind, code, valid_from, recorded_at, body, store_id, district_id, owner_id)
         SELECT kind, code, '{from}', '2026-06-20Z',
           body || jsonb_build_object('district', '{district}', 'owner', '{owner}'),
           store_id, '{district}', '{owner}'
         FROM reference_versions WHERE kind = 'stores' AND code = 'ford'"
    );
    pg.batch_execute(&sql).await.expect("a move on record");
}

async fn cases(scene: &Scene, role: Role) -> Vec<Value> {
    scene.listed(role, "/v1/cases").await
}

fn path_of(case: &Value) -> String {
    format!("/v1/stores/ford/cases/{}", case["id"].as_str().expect("an id"))
}

async fn says(scene: &Scene, role: Role, case: &Value, event: Value) -> u16 {
    let path = format!("{}/events", path_of(case));
    scene.post(role, &path, &event).await.status.as_u16()
}

/// Berlin's business day turns at five, three in UTC: from then on the case has ended, though no job has
/// looked yet.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_case_ends_at_the_moment_its_store_moves() {
    let scene = Scene::set().await;
    scene.look().await;
    let case = cases(&scene, coach("upper")).await.remove(0);
    let answered = || json!({ "kind": "answered", "said": "It came with the new counter." });
    let visited = || json!({ "kind": "visited", "on": "2026-06-21", "note": "The ladle." });
    ford_goes(&scene, "2026-06-22", "lower", "brook").await;
    scene.at("2026-06-22T02:59:59Z");
    assert_eq!(says(&scene, manager("ford"), &case, answered()).await, 201);
    assert_eq!(says(&scene, coach("upper"), &case, visited()).await, 201);
    let before = cases(&scene, coach("upper")).await.remove(0);
    assert_eq!((&before["stage"], &before["district"]), (&json!("visited"), &json!("upper")));

    scene.at("2026-06-22T03:00:00Z");
    assert_eq!(says(&scene, manager("ford"), &case, answered()).await, 409);
    assert_eq!(says(&scene, coach("upper"), &case, visited()).await, 409);
    assert_eq!(says(&scene, coach("lower"), &case, visited()).await, 404);
    // The former coach reads what was there, the new one nothing.
    let after = scene.get(coach("upper"), &path_of(&case)).await.expect(200).json.clone();
    assert_eq!((&after["stage"], &after["next"]), (&json!("moved"), &json!([])));
    assert_eq!(after["history"], before["history"]);
    assert_eq!(cases(&scene, coach("lower")).await.len(), 0);
    scene.get(coach("lower"), &path_of(&case)).await.expect_problem(404, "not-found");
    let moved = scene.listed(coach("upper"), "/v1/cases?stage=moved").await;
    assert_eq!(moved.len(), 1);
    let calendar = scene.get(coach("upper"), "/v1/districts/upper/calendar").await;
    assert!(!calendar.expect(200).text.contains("BEGIN:VEVENT"), "{}", calendar.text);
}

/// The nightly look puts the end on record, once, and it stays whatever is corrected later.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn the_end_of_a_case_is_put_on_record_once() {
    let scene = Scene::set().await;
    scene.look().await;
    ford_goes(&scene, "2026-06-21", "lower", "brook").await;
    scene.nights(1..=2, |store, _| if store == "ford" { 0.10 } else { 0.0 }).await;
    for night in [1, 2] {
        assert_eq!(scene.morning_after(night).await, 1);
    }
    // Once more to upper, and from the beginning on.
    ford_goes(&scene, "2026-06-21", "upper", "brook").await;
    let ended = cases(&scene, coach("upper")).await.remove(0);
    assert_eq!(ended["stage"], "moved");
    let history = ended["history"].as_array().expect("events");
    assert_eq!(history.len(), 1, "{history:?}");
    let told = (&history[0]["kind"], &history[0]["date"], history[0].get("by"));
    assert_eq!(told, (&json!("moved"), &json!("2026-06-21"), None));
    let record = scene.get(Role::Office, "/v1/case-record").await;
    assert_eq!(record.expect(200).json["districts"][0]["moved"], 1);
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_case_ends_when_its_store_is_sold() {
    let scene = Scene::set().await;
    scene.look().await;
    let case = cases(&scene, owner("brook")).await.remove(0);
    ford_goes(&scene, "2026-06-21", "upper", "hill").await;
    scene.at("2026-06-21T12:00:00Z");
    let answered = json!({ "kind": "answered", "said": "That was before my time." });
    assert_eq!(says(&scene, manager("ford"), &case, answered).await, 409);
    for role in [owner("brook"), coach("upper")] {
        let read = scene.get(role, &path_of(&case)).await;
        assert_eq!(read.expect(200).json["stage"], "moved");
    }
    assert_eq!(cases(&scene, owner("hill")).await.len(), 0);
}

/// Last night was upper's and brook's, though this morning ford is lower's and hill's.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn what_is_found_of_a_night_belongs_to_the_place_of_its_date() {
    let scene = Scene::set().await;
    ford_goes(&scene, "2026-06-21", "lower", "hill").await;
    assert_eq!(scene.look().await, 1);
    let of_ford = async |role| {
        let told = scene.told(role, "").await;
        told.iter().filter(|one| one["store"] == "ford" && one["measure"] == "use").count()
    };
    for (role, found) in
        [(coach("upper"), 1), (owner("brook"), 1), (coach("lower"), 0), (owner("hill"), 0)]
    {
        assert_eq!(of_ford(role.clone()).await, found, "{role:?}");
    }
    // Nobody is sent to a store that is somebody else's by now.
    assert_eq!(scene.listed(Role::Office, "/v1/cases").await.len(), 0);
}

/// Ten points more for twelve nights are no finding of the new place, whose first night is the 21st.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn the_new_place_begins_with_the_nights_since() {
    let scene = Scene::set().await;
    ford_goes(&scene, "2026-06-21", "lower", "brook").await;
    scene.nights(1..=10, |store, _| if store == "ford" { 0.10 } else { 0.0 }).await;
    scene.morning_after(10).await;
    let told = scene.told(coach("lower"), "").await;
    assert!(told.iter().all(|one| one["store"] != "ford"), "{told:?}");

    let course = "/v1/stores/ford/course?measure=use&as_of=";
    let weeks = scene.get(coach("lower"), &format!("{course}2026-06-30")).await;
    let weeks = weeks.expect(200).json["weeks"].as_array().expect("weeks").clone();
    let nights: u64 = weeks.iter().filter_map(|week| week["nights"].as_u64()).sum();
    assert_eq!(nights, 10, "{weeks:?}");
    scene.get(coach("lower"), &format!("{course}2026-06-20")).await.expect(404);
    scene.get(coach("upper"), &format!("{course}2026-06-30")).await.expect(404);
    let weeks = scene.get(coach("upper"), &format!("{course}2026-06-20")).await;
    let weeks = weeks.expect(200).json["weeks"].as_array().expect("weeks").clone();
    let nights: u64 = weeks.iter().filter_map(|week| week["nights"].as_u64()).sum();
    assert_eq!(nights, 112, "{weeks:?}");

    let causes = |since: &str, as_of: &str| {
        format!("/v1/stores/ford/causes?measure=use&since={since}&as_of={as_of}")
    };
    let reply = scene.get(coach("lower"), &causes("2026-06-09", "2026-06-30")).await;
    reply.expect_problem(422, "invalid");
    assert!(reply.text.contains("a date from 2026-06-21 to 2026-06-30"), "{}", reply.text);
    let reply = scene.get(coach("lower"), &causes("2026-06-25", "2026-06-30")).await;
    assert_eq!(reply.expect(200).json["before"], "2026-06-21");
    scene.get(coach("upper"), &causes("2026-06-09", "2026-06-20")).await.expect(200);
    scene.get(coach("upper"), &causes("2026-06-09", "2026-06-30")).await.expect(404);
}

/// An answer to a finding is given where the finding is, and no more once the store has left.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn nothing_is_said_to_a_finding_of_a_store_that_has_moved() {
    let scene = Scene::set().await;
    scene.look().await;
    let found = scene.told(Role::Office, "?store=ford").await;
    let found = found.iter().find(|one| one["kind"] == "drift").expect("a finding").clone();
    let id = found["id"].as_str().expect("an id");
    let pg = scene.house.pg(SUPERUSER).await;
    // Managers are asked about what only they are told.
    pg.batch_execute("UPDATE findings SET private = true, district_id = district_id")
        .await
        .expect("notes to managers");
    ford_goes(&scene, "2026-06-22", "lower", "hill").await;
    let path = format!("/v1/stores/ford/findings/{id}/answers");
    let said = json!({ "said": "The ladle is new." });
    scene.at("2026-06-22T02:59:59Z");
    scene.post(manager("ford"), &path, &said).await.expect(201);
    scene.at("2026-06-22T03:00:00Z");
    let reply = scene.post(manager("ford"), &path, &said).await;
    reply.expect_problem(409, "conflict");
    assert!(reply.text.contains("another district or owner"), "{}", reply.text);
    let sql = "SELECT district_id || ' ' || owner_id FROM finding_answers";
    let places: String = pg.query_one(sql, &[]).await.expect("an answer").get(0);
    assert_eq!(places, "upper brook");
}

/// Earlier versions let a case go with its store: it stays where it came to, and goes on.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_case_that_went_with_its_store_before_goes_on_where_it_came_to() {
    let scene = Scene::set().await;
    scene.look().await;
    let case = cases(&scene, coach("upper")).await.remove(0);
    ford_goes(&scene, "2026-06-21", "lower", "brook").await;
    let pg = scene.house.pg(SUPERUSER).await;
    pg.batch_execute(
        "UPDATE cases SET district_id = 'lower';
         INSERT INTO case_events (case_id, kind, body, at)
         SELECT id, 'followed', jsonb_build_object('kind', 'followed', 'district', 'lower'),
           '2026-06-22T04:00Z'
         FROM cases",
    )
    .await
    .expect("a case of before");
    scene.at("2026-06-23T12:00:00Z");
    let read = scene.get(coach("lower"), &path_of(&case)).await;
    assert_eq!(read.expect(200).json["stage"], "open");
    ford_goes(&scene, "2026-06-24", "upper", "brook").await;
    scene.at("2026-06-24T12:00:00Z");
    let read = scene.get(coach("lower"), &path_of(&case)).await;
    assert_eq!(read.expect(200).json["stage"], "moved");
}
