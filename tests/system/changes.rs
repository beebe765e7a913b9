//! What changed and why. Stores and amounts are an invented worked example; sums are beside the
//! checks.

use parings_core::access::Role;
use parings_tests::house::Person;
use parings_tests::night::role;
use serde_json::{Value, json};

use crate::known::{an_hour_later, moment, restate};
use crate::trace::scene::{BETWEEN, DATE, FIRST, Scene, count, entry, sale, typed};

async fn changes(scene: &Scene, by: &Person, since: &str, until: Option<&str>) -> Value {
    let until = until.map(|until| format!("&until={until}")).unwrap_or_default();
    let path = format!("/v1/stores/ford/nights/{DATE}/changes?since={since}{until}");
    scene.house.get(&path, Some(&by.token)).await.expect(200).json.clone()
}

fn events(of: &Value) -> Vec<[&str; 3]> {
    let events = of["events"].as_array().expect("events");
    let said = ["kind", "what", "business_date"];
    events.iter().map(|event| said.map(|name| event[name].as_str().unwrap_or_default())).collect()
}

fn figure<'a>(of: &'a Value, figure: &str) -> Option<[&'a Value; 2]> {
    let figures = of["figures"].as_array().expect("figures");
    let found = figures.iter().find(|f| f["figure"] == figure)?;
    Some([&found["before"]["value"], &found["after"]["value"]])
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn every_figure_that_moved_says_what_moved_it() {
    let scene = Scene::play().await;
    let coach = scene.house.person(role(Role::Coach, "upper")).await;
    let first = moment(scene.house.clock.now());
    let nothing = changes(&scene, &scene.manager, &first, None).await;
    assert_eq!((events(&nothing), &nothing["figures"]), (vec![], &json!([])));

    // One bag more, taken back an hour later: 22.68 kg in and out again.
    an_hour_later(&scene);
    let bag = entry("delivery", json!({ "quantity": typed("1", "bag") }));
    scene.record(BETWEEN, std::slice::from_ref(&bag)).await.expect(201);
    let second = moment(scene.house.clock.now());
    let late = changes(&scene, &scene.manager, &first, None).await;
    assert_eq!(events(&late), [["entry", "delivery", BETWEEN]]);
    assert_eq!(late["events"][0]["by"]["name"], "Somebody");
    // Nobody had counted that night, so nothing was late there.
    assert_eq!(late["events"][0]["late"], false);
    assert_eq!(figure(&late, "received"), Some([&json!("226.8"), &json!("249.48")]));
    assert_eq!(figure(&late, "closing"), None);

    an_hour_later(&scene);
    scene.withdraw(bag["id"].as_str().expect("an id")).await.expect(200);
    let both = changes(&scene, &coach, &first, None).await;
    assert_eq!(
        events(&both),
        [["entry", "delivery", BETWEEN], ["withdrawal", "delivery", BETWEEN]]
    );
    assert_eq!(both["events"][1]["reason"], "not ours");
    // What came went again; nobody above the store is named.
    assert_eq!(both["figures"], json!([]));
    assert!(!both.to_string().contains("Somebody"), "{both}");
    let part = changes(&scene, &coach, &second, None).await;
    assert_eq!(figure(&part, "received"), Some([&json!("249.48"), &json!("226.8")]));
    let earlier = changes(&scene, &coach, &first, Some(&second)).await;
    assert_eq!(figure(&earlier, "received"), Some([&json!("226.8"), &json!("249.48")]));

    // The count that opens the span is amended, waste of its own night moves nothing here.
    let third = moment(an_hour_later(&scene));
    an_hour_later(&scene);
    scene.submit(FIRST, Some("\"r1\""), count("150.0", "0")).await.expect(200);
    let dropped = json!({ "reason": "dropped", "quantity": typed("1", "kg") });
    scene.record(FIRST, &[entry("waste", dropped)]).await.expect(201);
    scene.feed(DATE, "t1-9", &[sale("9", "c100", 10, "45.00")]).await.expect(201);
    let opened = changes(&scene, &scene.manager, &third, None).await;
    let mut found = events(&opened);
    found.sort_unstable();
    assert_eq!(found, [["revision", "2", FIRST], ["till_batch", "t1-9", DATE]]);
    let of = opened["events"].as_array().expect("events");
    let amended = of.iter().find(|e| e["kind"] == "revision").expect("an amendment");
    assert_eq!(amended["reason"], "counted again");
    assert!(of.iter().any(|e| e["kind"] == "till_batch" && e["late"] == true), "{opened}");
    assert_eq!(figure(&opened, "opening"), Some([&json!("148"), &json!("150")]));
    // 2,788.50 + 272.50, and 45.00 more.
    assert_eq!(figure(&opened, "sales"), Some([&json!("3061"), &json!("3106")]));

    let fourth = moment(an_hour_later(&scene));
    an_hour_later(&scene);
    restate(&scene).await;
    let restated = changes(&scene, &scene.office, &fourth, None).await;
    assert!(events(&restated).iter().all(|[kind, ..]| *kind == "restatement"), "{restated}");
    assert_eq!(restated["events"][0]["reason"], "June was typed wrong");
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_rollup_says_which_nights_moved_it() {
    let scene = Scene::play().await;
    let since = scene.house.clock.now();
    an_hour_later(&scene);
    scene.submit(FIRST, Some("\"r1\""), count("150.0", "0")).await.expect(200);
    let bag = entry("delivery", json!({ "quantity": typed("1", "bag") }));
    scene.record(BETWEEN, std::slice::from_ref(&bag)).await.expect(201);
    scene.withdraw(bag["id"].as_str().expect("an id")).await.expect(200);
    let read = async |query: &str| {
        let path = format!(
            "/v1/rollups/changes?scope=district:upper&from={DATE}&to={DATE}&since={}{query}",
            moment(since)
        );
        scene.house.get(&path, Some(&scene.office.token)).await.expect(200).json.clone()
    };
    let all = read("").await;
    // The span of the night reaches back to the first.
    let nights = all["nights"]["items"].as_array().expect("nights");
    let dates: Vec<_> =
        nights.iter().map(|n| n["business_date"].as_str().expect("a date")).collect();
    assert_eq!(dates, [FIRST, BETWEEN]);
    assert_eq!(nights[0]["store"], "ford");
    assert_eq!(nights[0]["events"][0]["kind"], "revision");
    assert_eq!(nights[0]["events"][0]["reasons"], json!(["counted again"]));
    let withdrawn = &nights[1]["events"][1];
    assert_eq!(
        (&withdrawn["kind"], &withdrawn["times"], &withdrawn["reasons"]),
        (&json!("withdrawal"), &json!(1), &json!(["not ours"]))
    );
    let rollup = async |as_known_at: &str| {
        let path = format!("/v1/rollups?scope=district:upper&from={DATE}&to={DATE}{as_known_at}");
        scene.house.get(&path, Some(&scene.office.token)).await.expect(200).json.clone()
    };
    assert_eq!(all["after"], rollup("").await);
    assert_eq!(all["before"], rollup(&format!("&as_known_at={}", moment(since))).await);
    assert_ne!(all["before"], all["after"]);

    let one = read("&limit=1").await;
    let next = one["nights"]["next"].as_str().expect("another page").to_owned();
    let two = read(&format!("&limit=1&after={next}")).await;
    assert_eq!(one["nights"]["items"][0], nights[0]);
    assert_eq!(two["nights"]["items"], json!([nights[1]]));
    assert!(two["nights"].get("next").is_none());
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn moments_are_past_and_in_order() {
    let scene = Scene::play().await;
    let now = scene.house.clock.now();
    let (earlier, later) = (an_hour_before(now), moment(now + chrono::TimeDelta::hours(1)));
    let now = moment(now);
    for (since, until, at) in
        [(&later, None, "/since"), (&now, Some(&later), "/until"), (&now, Some(&earlier), "/since")]
    {
        let until = until.map(|until| format!("&until={until}")).unwrap_or_default();
        for path in [
            format!("/v1/stores/ford/nights/{DATE}/changes?since={since}{until}"),
            format!(
                "/v1/rollups/changes?scope=store:ford&from={DATE}&to={DATE}&since={since}{until}"
            ),
        ] {
            let refused = scene.house.get(&path, Some(&scene.office.token)).await;
            refused.expect_problem(422, "invalid");
            assert_eq!(refused.pointers(), [at], "{path}");
        }
    }
}

fn an_hour_before(at: chrono::DateTime<chrono::Utc>) -> String {
    moment(at - chrono::TimeDelta::hours(1))
}

/// What comes after a night's count was accepted is marked, for crew too, who see no count.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn what_comes_after_the_count_is_late() {
    let scene = Scene::play().await;
    an_hour_later(&scene);
    let bag = entry("delivery", json!({ "quantity": typed("1", "bag") }));
    let added = scene.record(DATE, std::slice::from_ref(&bag)).await;
    assert_eq!(added.expect(201).json["entries"][0]["late"], true);
    for person in [&scene.crew, &scene.manager, &scene.office] {
        let path = format!("/v1/stores/ford/entries?business_date={DATE}");
        let list = scene.house.get(&path, Some(&person.token)).await.expect(200).json.clone();
        for item in list["items"].as_array().expect("entries") {
            assert_eq!(item["late"], item["entry"]["id"] == bag["id"], "{item}");
        }
    }
    let batch = scene.feed(DATE, "t1-9", &[sale("9", "c100", 1, "4.50")]).await;
    assert_eq!(batch.expect(201).json["late"], true);
    for person in [&scene.till, &scene.manager] {
        let path = format!("/v1/stores/ford/till-batches?business_date={DATE}");
        let list = scene.house.get(&path, Some(&person.token)).await.expect(200).json.clone();
        let late: Vec<_> =
            list["items"].as_array().expect("batches").iter().map(|b| &b["late"]).collect();
        assert_eq!(late, [&json!(false), &json!(true)]);
    }
}
