//! A corrected past reaches the figures of nights already tallied, when head office says so. Stores
//! and amounts are an invented worked example; the sums are beside the checks.

use chrono::{DateTime, TimeDelta, Utc};
use parings::cluster::SUPERUSER;
use parings::edge::new_id;
use parings_core::access::Role;
use parings_tests::Reply;
use parings_tests::house::{Person, Sending};
use parings_tests::network::{CREATE, change};
use parings_tests::night::{of_item, receipt, role};
use reqwest::Method;
use serde_json::{Value, json};

use crate::trace::scene::{BETWEEN, DATE, FIRST, Scene, count, entry, russet, sale, typed};
use crate::verify::verify;

async fn restate(scene: &Scene, by: &Person, key: &str, body: &Value) -> Reply {
    let headers = [("Idempotency-Key", key)];
    let sending = Sending { token: Some(&by.token), headers: &headers, json: Some(body) };
    scene.house.send(Method::POST, "/v1/restatements", sending).await
}

fn fresh() -> String {
    new_id().to_string()
}

fn span(from: &str, to: &str) -> Value {
    json!({ "from": from, "to": to, "reason": "June was typed wrong" })
}

fn an_hour_later(scene: &Scene) -> DateTime<Utc> {
    scene.house.clock.set(scene.house.clock.now() + TimeDelta::hours(1));
    scene.house.clock.now()
}

/// Corrects a document from the first night on, an hour later.
async fn correct(scene: &Scene, path: &str, document: Value) {
    an_hour_later(scene);
    let mut body = change(FIRST, document);
    body["reason"] = json!("June was typed wrong");
    let (path, any) = (format!("/v1/reference/{path}"), ("If-Match", "*"));
    scene.house.put(&path, Some(&scene.office.token), &[any], &body).await.expect(200);
}

/// A receipt as head office reads it.
async fn read(scene: &Scene, store: &str, date: &str) -> Value {
    let path = format!("/v1/stores/{store}/nights/{date}");
    receipt(&scene.house, &scene.office, &path).await
}

fn usage(receipt: &Value) -> &Value {
    &of_item(receipt, "russet")["usage"]
}

fn moment(value: &Value) -> DateTime<Utc> {
    value.as_str().expect("a moment").parse().expect("RFC 3339")
}

/// Two nights in ford, with sales on the second, and one in weir.
async fn two_nights(first: Value, second: Value) -> Scene {
    let scene = Scene::set().await;
    scene.submit(FIRST, None, first.clone()).await.expect(201);
    scene.feed(BETWEEN, "t1-1", &[sale("1", "c100", 100, "450.00")]).await.expect(201);
    scene.submit(BETWEEN, None, second).await.expect(201);
    let path = format!("/v1/stores/weir/nights/{FIRST}");
    let mut weir = first;
    weir["submission_id"] = json!(new_id());
    scene.house.put(&path, Some(&scene.office.token), &[CREATE], &weir).await.expect(201);
    scene
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_corrected_price_reaches_nights_through_a_restatement_only() {
    let scene = two_nights(count("148.0", "0"), count("120.0", "0")).await;
    let before = read(&scene, "ford", BETWEEN).await;
    // 148 − 120 = 28 kg at 0.90.
    assert_eq!(usage(&before)["used_cost"], "25.20");

    correct(&scene, "prices/russet", json!({ "price": "1.00", "per": typed("1", "kg") })).await;
    assert_eq!(read(&scene, "ford", BETWEEN).await, before);
    assert_eq!(verify(&scene.house).await.differences, []);

    let now = an_hour_later(&scene);
    let (key, asked) = (fresh(), span(FIRST, BETWEEN));
    let first = restate(&scene, &scene.office, &key, &asked).await;
    first.expect(200);
    assert_eq!(first.json, json!({ "nights": 3, "stores": 2, "changed_spans": 1 }));
    let after = read(&scene, "ford", BETWEEN).await;
    // 28 kg at 1.00.
    assert_eq!(
        (&usage(&after)["used"], &usage(&after)["used_cost"]),
        (&usage(&before)["used"], &json!("28.00"))
    );
    assert_eq!(moment(&usage(&after)["restated_at"]), now);
    for (store, date) in [("ford", FIRST), ("ford", BETWEEN), ("weir", FIRST)] {
        let found = read(&scene, store, date).await;
        assert_eq!(moment(&found["known_at"]), now, "{store} {date}");
        assert_eq!(found["count"]["revision"], 1, "{store} {date}");
    }
    assert_eq!(verify(&scene.house).await.differences, []);

    // The tablet that lost the answer asks again, later; nothing moves.
    an_hour_later(&scene);
    let again = restate(&scene, &scene.office, &key, &asked).await;
    assert_eq!((again.expect(200).status, &again.json), (first.status, &first.json));
    assert_eq!(read(&scene, "ford", BETWEEN).await, after);
    let other = restate(&scene, &scene.office, &key, &span(FIRST, FIRST)).await;
    other.expect_problem(422, "id-taken");

    let noted = scene.house.pg(SUPERUSER).await;
    let sql = "SELECT store_id, detail->>'reason', detail->>'nights' FROM audit
        WHERE action = 'restate tallies' AND person_id = $1 ORDER BY store_id";
    let rows = noted.query(sql, &[&scene.office.id.0]).await.expect("rows");
    let said: Vec<[String; 3]> = rows.iter().map(|r| [r.get(0), r.get(1), r.get(2)]).collect();
    let why = "June was typed wrong";
    assert_eq!(said, [["ford", why, "2"], ["weir", why, "1"]]);

    // An amendment reuses the renewed pin.
    scene.submit(BETWEEN, Some("\"r1\""), count("119.0", "0")).await.expect(200);
    let amended = read(&scene, "ford", BETWEEN).await;
    assert_eq!(moment(&amended["known_at"]), now);
    assert_eq!(usage(&amended)["used_cost"], "29.00");
    assert_eq!(verify(&scene.house).await.differences, []);
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_restated_yield_changes_the_later_span_that_opens_there() {
    let scene = two_nights(count("100.0", "27.5"), count("100.0", "0")).await;
    let before = read(&scene, "ford", BETWEEN).await;
    let used = |receipt: &Value| usage(receipt)["used"]["value"].clone();
    // 27.5 ÷ (0.90 × 0.99 × 0.78 × 0.97) = 40.793.
    assert_eq!(used(&before), "40.793");
    let mut item = russet();
    item["stages"][0]["standard"] = json!("0.80");
    item["stages"][0]["low"] = json!("0.75");
    correct(&scene, "items/russet", item).await;
    let now = an_hour_later(&scene);
    let mut asked = span(FIRST, FIRST);
    asked["stores"] = json!(["ford"]);
    let reply = restate(&scene, &scene.office, &fresh(), &asked).await;
    assert_eq!(reply.expect(200).json, json!({ "nights": 1, "stores": 1, "changed_spans": 1 }));
    let after = read(&scene, "ford", BETWEEN).await;
    // 27.5 ÷ (0.80 × 0.99 × 0.78 × 0.97) = 45.892.
    assert_eq!(used(&after), "45.892");
    assert_eq!(moment(&usage(&after)["restated_at"]), now);
    // Neither the night it ends on nor another store was asked for: their pins stay.
    assert_eq!(after["known_at"], before["known_at"]);
    assert_ne!(moment(&read(&scene, "weir", FIRST).await["known_at"]), now);
    assert_eq!(verify(&scene.house).await.differences, []);
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn facts_that_do_not_fit_are_named_and_nothing_changes() {
    let scene = two_nights(count("148.0", "0"), count("120.0", "0")).await;
    let bags = entry("delivery", json!({ "quantity": typed("10", "bag") }));
    scene.record(DATE, &[bags]).await.expect(201);
    let before = read(&scene, "ford", BETWEEN).await;
    let mut item = russet();
    item["packs"] = json!([]);
    item["shelves"][0]["unit"] = json!("kg");
    correct(&scene, "items/russet", item).await;
    an_hour_later(&scene);
    let (key, asked) = (fresh(), span(FIRST, DATE));
    let refused = restate(&scene, &scene.office, &key, &asked).await;
    refused.expect_problem(409, "conflict");
    let says = refused.json["detail"].as_str().expect("a sentence");
    assert!(says.starts_with("Facts of ford on 2026-06-17 cannot be tallied: "), "{says}");
    assert!(says.contains("bag"), "{says}");
    assert_eq!(read(&scene, "ford", BETWEEN).await, before);
    let pg = scene.house.pg(SUPERUSER).await;
    let sql = "SELECT count(*) FROM audit WHERE action = 'restate tallies'";
    assert_eq!(pg.query_one(sql, &[]).await.expect("a row").get::<_, i64>(0), 0);
    assert_eq!(verify(&scene.house).await.differences, []);
    // Nothing was kept of the id either: put right, the same request goes through.
    correct(&scene, "items/russet", russet()).await;
    an_hour_later(&scene);
    let done = restate(&scene, &scene.office, &key, &asked).await;
    assert_eq!(done.expect(200).json["nights"], 4);
    assert_eq!(verify(&scene.house).await.differences, []);
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn only_head_office_restates_and_only_so_much() {
    let scene = two_nights(count("148.0", "0"), count("120.0", "0")).await;
    let coach = scene.house.person(role(Role::Coach, "upper")).await;
    for person in [&coach, &scene.manager, &scene.crew] {
        let reply = restate(&scene, person, &fresh(), &span(FIRST, BETWEEN)).await;
        reply.expect_problem(403, "forbidden");
    }
    let with = |member: &str, value: Value| {
        let mut body = span(FIRST, BETWEEN);
        body[member] = value;
        body
    };
    for (body, pointer) in [
        (span(BETWEEN, FIRST), "/to"),
        // The 101st day: 15 June + 100.
        (span(FIRST, "2026-09-23"), "/to"),
        (with("stores", json!([])), "/stores"),
        (with("stores", json!(["ford", "nowhere"])), "/stores/1"),
        (with("stores", json!(["Not a code"])), "/stores/0"),
        (with("reason", json!(" ")), "/reason"),
    ] {
        let reply = restate(&scene, &scene.office, &fresh(), &body).await;
        reply.expect_problem(422, "invalid");
        assert_eq!(reply.pointers(), [pointer], "{body}");
    }
    let none = restate(&scene, &scene.office, &fresh(), &span("2026-03-01", "2026-06-08")).await;
    assert_eq!(none.expect(200).json, json!({ "nights": 0, "stores": 0, "changed_spans": 0 }));

    // With the three there are, 501.
    let many = "INSERT INTO nights
        SELECT (jsonb_populate_record(n, jsonb_build_object('store_id', 's' || g))).*
        FROM nights n, generate_series(1, 498) g WHERE store_id = 'weir'";
    let pg = scene.house.pg(SUPERUSER).await;
    assert_eq!(pg.execute(many, &[]).await.expect("rows"), 498);
    let refused = restate(&scene, &scene.office, &fresh(), &span(FIRST, BETWEEN)).await;
    refused.expect_problem(422, "invalid");
    let says = refused.json["errors"][0]["detail"].as_str().expect("a sentence");
    assert!(says.contains("500 nights") && says.contains("fewer stores"), "{says}");
    let few = with("stores", json!(["ford"]));
    let done = restate(&scene, &scene.office, &fresh(), &few).await;
    assert_eq!(done.expect(200).json["nights"], 2);
}
