//! Figures as they were known at a moment: what was read then and what is read later of then are
//! the same, whatever was recorded in between. Stores and amounts are an invented worked example.

use chrono::{DateTime, TimeDelta, Utc};
use parings::cluster::SUPERUSER;
use parings::edge::new_id;
use parings_core::access::Role;
use parings_tests::house::{Person, Sending};
use parings_tests::network::{self, change, store};
use parings_tests::night::{of_item, role};
use reqwest::Method;
use serde_json::{Value, json};

use crate::trace::scene::{BETWEEN, DATE, FIRST, Scene, count, entry, sale, typed};
use crate::verify::verify;

pub fn an_hour_later(scene: &Scene) -> DateTime<Utc> {
    scene.house.clock.set(scene.house.clock.now() + TimeDelta::hours(1));
    scene.house.clock.now()
}

/// A moment as a query has it.
pub fn moment(at: DateTime<Utc>) -> String {
    at.to_rfc3339_opts(chrono::SecondsFormat::AutoSi, true)
}

/// The same without marks of restatements, which say what is known now, without the moment it is of, and
/// without the id that every request has of its own.
fn without_marks(mut of: Value) -> Value {
    match &mut of {
        Value::Object(members) => {
            members.remove("restated_at");
            members.remove("as_known_at");
            members.remove("restated_spans");
            members.remove("request_id");
            for (_, member) in members.iter_mut() {
                *member = without_marks(member.take());
            }
        }
        Value::Array(items) => {
            for item in items {
                *item = without_marks(item.take());
            }
        }
        _ => {}
    }
    of
}

/// Everything that somebody reads of the scene's nights: receipts, figures opened, roll-ups.
async fn reads(
    scene: &Scene,
    by: &Person,
    scopes: &[&str],
    at: Option<DateTime<Utc>>,
) -> Vec<Value> {
    let mut paths = Vec::new();
    for date in [FIRST, BETWEEN, DATE] {
        let night = format!("/v1/stores/ford/nights/{date}");
        paths.push(format!("{night}?"));
        paths.push(format!("{night}/trace?figure=sales&"));
        paths.push(format!("{night}/trace?figure=unexplained&item=russet&"));
    }
    for scope in scopes {
        let span = format!("/v1/rollups?scope={scope}&from={FIRST}&to=2026-06-18&");
        paths.extend(["by=day&children=true&", ""].map(|by| format!("{span}{by}")));
        paths.push(format!("/v1/rollups?scope={scope}&from={DATE}&to={DATE}&"));
    }
    let mut all = Vec::new();
    for path in paths {
        // A store has no children to list.
        if path.contains("scope=store") && path.contains("children") {
            continue;
        }
        let asked = at.map(|at| format!("as_known_at={}", moment(at))).unwrap_or_default();
        let asked = format!("{path}{asked}");
        let reply = scene.house.get(asked.trim_end_matches(['&', '?']), Some(&by.token)).await;
        all.push(json!({ "path": path, "status": reply.status.to_string(),
            "says": without_marks(reply.json.clone()) }));
    }
    all
}

#[track_caller]
fn assert_same(then: &[Value], later: &[Value], what: &str) {
    for (then, later) in then.iter().zip(later) {
        assert_eq!(then.to_string(), later.to_string(), "{what}");
    }
    assert_eq!(then.len(), later.len());
}

/// Restates a corrected price.
pub async fn restate(scene: &Scene) {
    let price = json!({ "price": "1.00", "per": typed("1", "kg") });
    let mut body = change(FIRST, price);
    body["reason"] = json!("June was typed wrong");
    let any = [("If-Match", "*")];
    let office = Some(scene.office.token.as_str());
    scene.house.put("/v1/reference/prices/russet", office, &any, &body).await.expect(200);
    let body = json!({ "from": FIRST, "to": DATE, "reason": "June was typed wrong" });
    let key = new_id().to_string();
    let headers = [("Idempotency-Key", key.as_str())];
    let sending = Sending { token: office, headers: &headers, json: Some(&body) };
    scene.house.send(Method::POST, "/v1/restatements", sending).await.expect(200);
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn what_was_read_then_is_read_later_of_then() {
    let scene = Scene::play().await;
    let scopes = ["district:upper", "network"];
    let taken_back = entry("delivery", json!({ "quantity": typed("1", "bag") }));
    let id = taken_back["id"].as_str().expect("an id").to_owned();
    let mut known = Vec::new();
    for step in 0..8 {
        match step {
            // A delivery comes late, and is taken back.
            1 => drop(scene.record(BETWEEN, std::slice::from_ref(&taken_back)).await.expect(201)),
            2 => drop(scene.withdraw(&id).await.expect(200)),
            // The opening count is amended, the till sends what it kept.
            3 => drop(scene.submit(FIRST, Some("\"r1\""), count("146.0", "1")).await.expect(200)),
            4 => {
                let sold = [sale("9", "c100", 10, "45.00")];
                scene.feed(BETWEEN, "t1-9", &sold).await.expect(201);
            }
            // A neighbour's count is filled in, and the worked night amended.
            5 => drop(scene.submit(BETWEEN, None, count("300.0", "0")).await.expect(201)),
            6 => drop(scene.submit(DATE, Some("\"r1\""), count("91.7", "27.5")).await.expect(200)),
            7 => restate(&scene).await,
            _ => {}
        }
        let at = scene.house.clock.now();
        known.push((at, reads(&scene, &scene.office, &scopes, None).await));
        an_hour_later(&scene);
    }
    for (step, (at, then)) in known.iter().enumerate() {
        let well = |read: &&Value| read["status"] == "200 OK";
        assert_eq!(then.iter().filter(well).count(), then.len(), "{then:?}");
        let later = reads(&scene, &scene.office, &scopes, Some(*at)).await;
        assert_same(then, &later, &format!("step {step}"));
    }
    // Nobody saw the same twice: every step changed something.
    for pair in known.windows(2) {
        assert_ne!(pair[0].1, pair[1].1);
    }
    assert_eq!(verify(&scene.house).await.differences, []);
}

/// A store moves to another district between two counts. Its new coach is shown the span that ends
/// there, and must be shown what it was, though its first night is not theirs to see.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_new_coach_reads_of_then_what_they_read_then() {
    let scene = Scene::set().await;
    let mut body = change(DATE, store("Ford", "lower", "brook"));
    body["reason"] = json!("It moved");
    let any = [("If-Match", "*")];
    let office = Some(scene.office.token.as_str());
    scene.house.put("/v1/reference/stores/ford", office, &any, &body).await.expect(200);
    let coach = scene.house.person(role(Role::Coach, "lower")).await;
    scene.submit(FIRST, None, count("148.0", "0")).await.expect(201);
    let sold = [sale("1", "c100", 100, "450.00")];
    scene.feed(BETWEEN, "t1-1", &sold).await.expect(201);
    scene.feed(DATE, "t1-2", &sold).await.expect(201);
    scene.submit(DATE, None, count("90.0", "0")).await.expect(201);
    let at = an_hour_later(&scene);
    let scopes = ["store:ford", "district:lower"];
    let then = reads(&scene, &coach, &scopes, None).await;
    let read = then.iter().find(|read| read["path"] == format!("/v1/stores/ford/nights/{DATE}?"));
    let used = &of_item(&read.expect("a receipt")["says"], "russet")["usage"]["used"]["value"];
    // 148 − 90.
    assert_eq!(used, "58");

    an_hour_later(&scene);
    scene.submit(FIRST, Some("\"r1\""), count("150.0", "0")).await.expect(200);
    scene.feed(BETWEEN, "t1-3", &[sale("2", "c100", 1, "4.50")]).await.expect(201);
    scene.submit(BETWEEN, None, count("120.0", "0")).await.expect(201);
    let now = reads(&scene, &coach, &scopes, None).await;
    assert_ne!(now, then);
    assert_same(&then, &reads(&scene, &coach, &scopes, Some(at)).await, "the new coach");
}

/// A count that is still being recorded bears a moment that has passed. Who asks about a later one is told
/// of the moment before it, and reads the same of that moment when the count is there.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn what_is_told_of_a_moment_stays_whatever_was_still_on_its_way() {
    let scene = Scene::set().await;
    scene.submit(FIRST, None, count("148.0", "0")).await.expect(201);
    let began = an_hour_later(&scene);
    let mut holder = scene.house.pg(SUPERUSER).await;
    let held = holder.transaction().await.expect("a transaction");
    let lock = "SELECT pg_advisory_xact_lock(hashtextextended('ford', 0))";
    held.execute(lock, &[]).await.expect("the lock of the store");
    let asked = async |at| {
        let night = format!("/v1/stores/ford/nights/{DATE}?as_known_at={}", moment(at));
        let span = format!("from={FIRST}&to={DATE}&as_known_at={}", moment(at));
        let office = Some(scene.office.token.as_str());
        let rollup = scene.house.get(&format!("/v1/rollups?scope=network&{span}"), office).await;
        let receipt = scene.house.get(&night, office).await;
        (rollup.expect(200).text.clone(), rollup.json["as_known_at"].clone(), receipt.json)
    };
    let sending = scene.submit(DATE, None, count("90.0", "0"));
    let meanwhile = async {
        scene.house.until_waiting(1).await;
        let later = an_hour_later(&scene);
        let (told, named, receipt) = asked(later).await;
        held.rollback().await.expect("given up");
        (later, told, named, receipt)
    };
    let (sent, (later, told, named, receipt)) = tokio::join!(sending, meanwhile);
    sent.expect(201);
    let named: DateTime<Utc> = serde_json::from_value(named).expect("a moment");
    assert!(named < began && began - named <= TimeDelta::seconds(1), "{named} for {began}");
    assert_eq!(receipt["as_known_at"], json!(named));

    assert_eq!(asked(named).await.0, told);
    let (after, of, counted) = asked(later).await;
    assert_eq!(of, json!(later));
    assert_ne!(after, told);
    assert_eq!((receipt.get("count"), counted["count"]["revision"].as_i64()), (None, Some(1)));
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_moment_to_come_is_refused_and_so_is_too_much_work() {
    let scene = Scene::play().await;
    let now = scene.house.clock.now();
    let rollup = format!("/v1/rollups?scope=network&from={FIRST}&to={DATE}");
    let night = format!("/v1/stores/ford/nights/{DATE}");
    let (tomorrow, broken) = (moment(now + TimeDelta::days(1)), "yesterday");
    for path in [
        format!("{night}?as_known_at="),
        format!("{night}/trace?figure=sales&as_known_at="),
        format!("{rollup}&as_known_at="),
    ] {
        let office = Some(scene.office.token.as_str());
        let refused = scene.house.get(&format!("{path}{tomorrow}"), office).await;
        refused.expect_problem(422, "invalid");
        assert_eq!(refused.pointers(), ["/as_known_at"]);
        scene.house.get(&format!("{path}{broken}"), office).await.expect(400);
    }
    // Of 100 nights of each of six stores, something was recorded since.
    for code in ["s1", "s2", "s3", "s4"] {
        let document = store("One more", "lower", "hill");
        network::put(&scene.house, &scene.office.token, "stores", code, document).await;
    }
    let pins = "INSERT INTO night_pins SELECT date '2026-06-14' - g, store, rules, known, known,
          NULL, district_id, region_id, owner_id
        FROM night_pins, generate_series(1, 100) g,
          unnest(ARRAY['ford', 'weir', 's1', 's2', 's3', 's4']) store,
          unnest(ARRAY[$1::timestamptz, $1::timestamptz + interval '1 second'])
            known
        WHERE business_date = '2026-06-15'";
    let pg = scene.house.pg(SUPERUSER).await;
    assert_eq!(pg.execute(pins, &[&now]).await.expect("rows"), 1_200);
    an_hour_later(&scene);
    let asked = |from: &str| {
        format!("/v1/rollups?scope=network&from={from}&to={DATE}&as_known_at={}", moment(now))
    };
    let office = Some(scene.office.token.as_str());
    let refused = scene.house.get(&asked("2026-03-05"), office).await;
    refused.expect_problem(422, "invalid");
    let says = refused.json["errors"][0]["detail"].as_str().expect("a sentence");
    assert!(says.contains("500 nights"), "{says}");
    scene.house.get(&asked("2026-06-10"), office).await.expect(200);
}

/// Nothing is known before anything was recorded; that is not zero.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn before_anything_was_recorded_nothing_is_known() {
    let scene = Scene::play().await;
    let before = scene.house.clock.now() - TimeDelta::minutes(1);
    an_hour_later(&scene);
    let office = Some(scene.office.token.as_str());
    let night = format!("/v1/stores/ford/nights/{DATE}?as_known_at={}", moment(before));
    let receipt = scene.house.get(&night, office).await.expect(200).json.clone();
    assert!(receipt.get("count").is_none() && receipt.get("sales").is_none(), "{receipt}");
    assert_eq!(of_item(&receipt, "russet")["known"], "not_counted");

    // Of a store that never recorded anything, its coach is told so.
    let coach = scene.house.person(role(Role::Coach, "lower")).await;
    let night = format!("/v1/stores/weir/nights/{DATE}?as_known_at={}", moment(before));
    let receipt = scene.house.get(&night, Some(&coach.token)).await.expect(200).json.clone();
    assert_eq!(of_item(&receipt, "russet")["known"], "not_counted");
}
