//! Who read or changed what matters, over HTTP.

use parings_core::access::Role;
use parings_tests::house::{House, Person};
use parings_tests::night::role;
use serde_json::Value;

use crate::known::{an_hour_later, moment};
use crate::trace::scene::{DATE, Scene};

async fn list(house: &House, by: &Person, query: &str) -> Vec<Value> {
    let path = format!("/v1/audit?limit=200{query}");
    let found = house.get(&path, Some(&by.token)).await.expect(200).json.clone();
    found["items"].as_array().expect("rows").clone()
}

fn actions(rows: &[Value]) -> Vec<&str> {
    rows.iter().map(|row| row["action"].as_str().expect("an action")).collect()
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn what_is_read_from_above_is_noted_and_what_the_store_reads_is_not() {
    let scene = Scene::play().await;
    let (house, office) = (&scene.house, &scene.office);
    let coach = house.person(role(Role::Coach, "upper")).await;
    let owner = house.person(role(Role::Owner, "brook")).await;
    let since = format!("&since={}", moment(an_hour_later(&scene)));
    let night = format!("/v1/stores/ford/nights/{DATE}");
    let entries = format!("/v1/stores/ford/entries?business_date={DATE}");
    let paths = [
        night.clone(),
        format!("{night}/revisions"),
        format!("{night}/trace?figure=sales"),
        format!("{night}/changes?since=2026-06-01T00:00:00Z"),
        entries.clone(),
    ];
    for path in &paths {
        house.get(path, Some(&scene.manager.token)).await.expect(200);
    }
    house.get(&entries, Some(&scene.crew.token)).await.expect(200);
    assert_eq!(list(house, &scene.manager, &since).await, Vec::<Value>::new());

    for person in [&coach, &owner] {
        for path in &paths {
            house.get(path, Some(&person.token)).await.expect(200);
        }
    }
    let noted = list(house, &scene.manager, &since).await;
    let of_night = format!("night ford {DATE}");
    let once = ["read entries", "read a night", "read a night", "read a night", "read a night"];
    assert_eq!(actions(&noted), [once, once].concat());
    for row in &noted {
        // That somebody looked is told to the manager, and not who.
        assert!(row.get("person").is_none() && row.get("name").is_none(), "{row}");
        assert_eq!((&row["store"], &row["target"]), (&"ford".into(), &of_night.clone().into()));
    }
    let told = list(house, office, &format!("{since}&store=ford")).await;
    for (n, row) in told.iter().enumerate() {
        // The newest first: the owner read last.
        let who = if n < 5 { &owner } else { &coach };
        assert_eq!(row["person"], who.id.0.to_string());
    }

    house.get("/v1/people", Some(&office.token)).await.expect(200);
    let of_office = list(house, office, &format!("{since}&person={}", office.id.0)).await;
    assert_eq!(actions(&of_office), ["read people", "read the audit"]);
    let again = list(house, office, &since).await;
    // Reading the audit is noted when head office does it.
    assert_eq!(actions(&again)[..2], ["read the audit", "read people"]);
    assert!(again.iter().all(|row| row.get("name").is_none()), "{again:?}");
    // What is of the network, or of another store, is not the manager's.
    let of_store = list(house, &scene.manager, &since).await;
    assert_eq!(of_store.len(), 10);
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn rows_are_found_by_store_person_action_and_time() {
    let scene = Scene::play().await;
    let (house, office) = (&scene.house, &scene.office);
    let submitted = list(house, office, "&store=ford&action=submit%20night").await;
    assert_eq!(submitted.len(), 2);
    assert!(submitted.iter().all(|row| row["person"] == scene.manager.id.0.to_string()));
    let of_till = list(house, office, &format!("&person={}", scene.till.id.0)).await;
    assert_eq!(actions(&of_till), ["take batch"; 3]);
    let until = moment(scene.house.clock.now());
    let before = list(house, office, &format!("&store=ford&until={until}")).await;
    assert!(!actions(&before).contains(&"submit night"), "{before:?}");
    let of_weir = list(house, office, "&store=weir").await;
    assert!(of_weir.iter().all(|row| row["target"] == "stores weir"), "{of_weir:?}");

    // Page by page, each row once.
    let all = list(house, &scene.manager, "").await;
    let (mut pages, mut after) = (Vec::new(), String::new());
    loop {
        let path = format!("/v1/audit?limit=3{after}");
        let page = house.get(&path, Some(&scene.manager.token)).await.expect(200).json.clone();
        pages.extend(page["items"].as_array().expect("rows").clone());
        let Some(next) = page["next"].as_str() else { break };
        after = format!("&after={next}");
    }
    assert!(all.len() > 6);
    assert_eq!(pages, all);
    let other = house.get("/v1/audit?store=weir", Some(&scene.manager.token)).await;
    other.expect_problem(404, "not-found");
    house.get("/v1/audit", Some(&scene.crew.token)).await.expect_problem(403, "forbidden");
}
