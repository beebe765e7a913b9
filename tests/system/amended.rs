//! Counts that were amended, and counts that wait, as a review sees them.

use chrono::TimeDelta;
use parings::cluster::SUPERUSER;
use parings_core::access::Role;
use parings_tests::tallies::put;
use serde_json::{Value, json};

use crate::standing_out::{Scene, coach, last, manager, stores};

/// Revisions of counts of the cold room: a store, how many nights before the last, and kilograms by
/// revision, the state beside each. All invented.
async fn counted(scene: &Scene, store: &str, back: i64, revisions: &[(&str, &str)]) {
    let pg = scene.house.pg(SUPERUSER).await;
    let date = last() - TimeDelta::days(back);
    let rows = (1..).zip(revisions).map(|(revision, (kilograms, state))| {
        let body = json!({ "complete": true, "lines": [{ "item": "potato", "place": "dry-store",
            "quantity": { "value": kilograms, "unit": "kg" } }] });
        json!({ "business_date": date, "store_id": store, "district_id": "upper",
            "region_id": "valley", "owner_id": "brook", "revision": revision, "state": state,
            "body": body, "reason": (revision > 1).then_some("a bag was overlooked"),
            "submitted_by": uuid::Uuid::nil(), "write_id": uuid::Uuid::nil(),
            "recorded_at": format!("{date}T22:0{revision}:00Z") })
    });
    put(&pg, "night_revisions", rows.collect()).await;
}

/// Mill amends every other count, and each time more is found on the shelf than was counted at first:
/// use comes nearer to what was expected, from 9 to 11 points beyond it to 3 to 5. That all of 21 do by
/// chance where two of three do has a probability of (2/3)^21, or one in 5,000 (worked out here): then it
/// is asked about. Weir mends as many, of which every third goes the other way.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn amendments_that_shrink_what_is_beyond_expected_use_are_asked_about() {
    let scene = Scene::set().await;
    for back in (1..56).step_by(2) {
        counted(&scene, "mill", back, &[("11", "accepted"), ("23", "accepted")]).await;
        let first = if back % 3 == 0 { "24" } else { "11" };
        counted(&scene, "weir", back, &[(first, "accepted"), ("23", "accepted")]).await;
        // What was never accepted amends nothing.
        counted(&scene, "quay", back, &[("23", "accepted"), ("35", "held")]).await;
    }
    scene.look().await;
    let habit = |told: Vec<Value>| -> Vec<Value> {
        told.into_iter().filter(|one| one["kind"] == "habit").collect()
    };
    let told = habit(scene.told(coach("upper"), "").await);
    assert_eq!(stores(&told), [("mill", "habit")], "{told:#?}");
    assert_eq!(told[0]["evidence"]["habit"], "amended");
    let sentence = told[0]["sentence"].as_str().expect("a sentence");
    assert!(sentence.contains("100.0 % of 21 counts that were amended came nearer"), "{sentence}");
    // The manager is asked, and nobody else's manager.
    assert_eq!(stores(&habit(scene.told(manager("mill"), "").await)), [("mill", "habit")]);
    assert_eq!(scene.told(manager("weir"), "").await, [] as [Value; 0]);
}

/// Of two nights without an accepted count one has a count that waits. Both are missing, one of them is
/// told to be held, and a proposal beside an accepted count makes no night missing.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_night_whose_count_waits_is_missing_and_told_to_be_held() {
    let scene = Scene::set().await;
    let pg = scene.house.pg(SUPERUSER).await;
    let gone = "DELETE FROM nights WHERE store_id = 'weir'
        AND business_date IN ('2026-06-14', '2026-06-15')";
    assert_eq!(pg.execute(gone, &[]).await.expect("gone"), 2);
    counted(&scene, "weir", 6, &[("23", "held")]).await;
    counted(&scene, "weir", 7, &[("11", "accepted"), ("23", "proposed")]).await;
    for role in [coach("upper"), Role::Office] {
        let reply = scene.get(role, "/v1/districts/upper/review?as_of=2026-06-20").await;
        reply.expect(200);
        let listed = reply.json["stores"].as_array().expect("stores");
        let weir = listed.iter().find(|one| one["store"] == "weir").expect("weir");
        let nights = &weir["nights"];
        let told = ["expected", "counted", "missing", "held"].map(|word| nights[word].as_u64());
        assert_eq!(told, [28, 26, 2, 1].map(Some), "{nights}");
    }
}
