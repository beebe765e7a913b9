//! The night over HTTP: submitted, sent again, amended, refused.

use parings_core::access::Role;
use parings_tests::house::{House, Person};
use parings_tests::network::CREATE;
use parings_tests::night::{
    amend, count, delivery, entry, line, night, of_item, receipt, record, role, staged, submit,
    typed, with,
};
use parings_tests::{Reply, house, network};
use serde_json::{Value, json};

const DATE: &str = "2026-06-15";

/// A house with a network, and the manager of ford.
async fn open() -> (House, Person) {
    let house = house().await;
    let office = house.person(Role::Office).await;
    network::start(&house, &office.token).await;
    let manager = house.person(role(Role::Manager, "ford")).await;
    (house, manager)
}

fn ford() -> String {
    night("ford", DATE)
}

/// Potatoes in both their places.
fn both(bags: &str, trimmed: &str) -> [Value; 2] {
    [line("potato", "dry-store", bags, "bag"), staged("potato", "cold-room", "trim", trimmed, "kg")]
}

async fn put(house: &House, by: &Person, header: (&str, &str), body: &Value) -> Reply {
    house.put(&ford(), Some(&by.token), &[header], body).await
}

async fn revisions(house: &House, by: &Person) -> Vec<Value> {
    let path = format!("{}/revisions", ford());
    let found = house.get(&path, Some(&by.token)).await;
    found.expect(200).json.as_array().expect("revisions").clone()
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_resend_after_a_lost_reply_is_answered_as_the_first_time() {
    let (house, manager) = open().await;
    let body = with(count(&both("4", "9")), "entries", json!([delivery("2", "bag")]));
    let first = put(&house, &manager, CREATE, &body).await;
    first.expect(201);
    assert_eq!(first.header("etag"), "\"r1\"");
    for _ in 0..2 {
        let again = put(&house, &manager, CREATE, &body).await;
        again.expect(201);
        assert_eq!(
            (again.json, again.headers.get("etag")),
            (first.json.clone(), first.headers.get("etag"))
        );
    }
    assert_eq!(revisions(&house, &manager).await.len(), 1);

    // Another count under the id of the first, here and on another night.
    let other = with(body.clone(), "lines", json!(both("5", "9")));
    put(&house, &manager, CREATE, &other).await.expect_problem(422, "id-taken");
    let elsewhere = night("ford", "2026-06-13");
    let moved = house.put(&elsewhere, Some(&manager.token), &[CREATE], &body).await;
    moved.expect_problem(422, "id-taken");
    house.get(&elsewhere, Some(&manager.token)).await.expect(200);
    assert_eq!(receipt(&house, &manager, &ford()).await, first.json);
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn an_amendment_says_why_and_keeps_what_was_typed_before() {
    let (house, manager) = open().await;
    let body = count(&both("4", "9"));
    house
        .put(&ford(), Some(&manager.token), &[], &body)
        .await
        .expect_problem(428, "precondition-required");
    put(&house, &manager, ("If-Match", "*"), &body)
        .await
        .expect_problem(412, "precondition-failed");
    let first = put(&house, &manager, CREATE, &body).await;
    put(&house, &manager, CREATE, &count(&both("4", "9")))
        .await
        .expect_problem(412, "precondition-failed");

    let tag = first.expect(201).header("etag").to_owned();
    let new = count(&both("3", "9"));
    for reason in [Value::Null, json!(""), json!("  ")] {
        let silent = with(new.clone(), "reason", reason);
        let refused = put(&house, &manager, ("If-Match", &tag), &silent).await;
        assert_eq!(refused.expect_problem(422, "invalid").pointers(), ["/reason"]);
    }
    let new = with(new, "reason", "One bag was empty");
    let second = put(&house, &manager, ("If-Match", &tag), &new).await;
    assert_eq!(second.expect(200).header("etag"), "\"r2\"");
    assert_eq!(second.json["count"]["reason"], "One bag was empty");
    let stale = with(count(&both("2", "9")), "reason", "Late");
    put(&house, &manager, ("If-Match", &tag), &stale)
        .await
        .expect_problem(412, "precondition-failed");

    let all = revisions(&house, &manager).await;
    let typed: Vec<_> =
        all.iter().map(|r| (&r["revision"], &r["lines"][0]["quantity"]["value"])).collect();
    assert_eq!(typed, [(&json!(1), &json!("4")), (&json!(2), &json!("3"))]);
    // The first submission, sent again by now, is still the first.
    let again = put(&house, &manager, CREATE, &body).await;
    assert_eq!(again.expect(201).json, first.json);
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_blank_is_not_a_zero() {
    let (house, manager) = open().await;
    let [bags, trimmed] = both("0", "0");
    let blank = put(&house, &manager, CREATE, &count(std::slice::from_ref(&bags))).await;
    assert_eq!(blank.expect_problem(422, "invalid").pointers(), ["/lines"]);
    let says = blank.json["errors"][0]["detail"].as_str().expect("words");
    for word in ["Potatoes", "cold-room", "trim", "type 0", "complete: false"] {
        assert!(says.contains(word), "{says}");
    }

    // Partial: taken, and the item that is not fully answered has no count.
    let some = with(count(std::slice::from_ref(&bags)), "complete", false);
    let partial = submit(&house, &manager, &ford(), &some).await;
    assert_eq!((&partial["items_due"], &partial["items_counted"]), (&json!(1), &json!(0)));
    assert_eq!(of_item(&partial, "potato")["known"], "not_counted");
    assert!(of_item(&partial, "potato").get("usage").is_none());

    // Zero, typed, is a count.
    let none = amend(&house, &manager, &ford(), &count(&[bags, trimmed])).await;
    assert_eq!(of_item(&none, "potato")["known"], "baseline");
    assert_eq!(none["items_counted"], 1);
    let next = night("ford", "2026-06-16");
    house.clock.set(house.clock.now() + chrono::TimeDelta::days(1));
    let body = with(count(&both("1", "0")), "entries", json!([delivery("3", "bag")]));
    let next = submit(&house, &manager, &next, &body).await;
    assert_eq!(of_item(&next, "potato")["usage"]["opening"]["value"], "0");
    assert_eq!(of_item(&next, "potato")["usage"]["used"]["value"], "45.36");
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn usage_only_for_items_answered_in_full() {
    let (house, manager) = open().await;
    let office = house.person(Role::Office).await;
    let sauce = json!({
        "title": "Sauce", "group": "food", "base": "volume", "rhythm": { "every": "night" },
        "shelves": [{ "place": "cold-room", "unit": "l" }, { "place": "dry-store", "unit": "l" }],
    });
    network::put(&house, &office.token, "items", "sauce", sauce).await;
    let place = |place, value| line("sauce", place, value, "l");
    let monday =
        [&both("4", "9")[..], &[place("cold-room", "2"), place("dry-store", "1")]].concat();
    submit(&house, &manager, &ford(), &count(&monday)).await;
    house.clock.set(house.clock.now() + chrono::TimeDelta::days(1));
    let tuesday = [&both("3", "9")[..], &[place("cold-room", "2")]].concat();
    let tuesday = with(count(&tuesday), "complete", false);
    let found = submit(&house, &manager, &night("ford", "2026-06-16"), &tuesday).await;
    assert_eq!(of_item(&found, "potato")["usage"]["used"]["value"], "22.68");
    assert_eq!(of_item(&found, "potato")["known"], "pending");
    assert_eq!(of_item(&found, "sauce")["known"], "not_counted");
    assert!(of_item(&found, "sauce").get("usage").is_none());
}

/// Units: 1 lb = 453.59237 g and 1 US cup = 236.5882365 ml, 1 US gal = 16 cups, 1 oz = 1/16 lb
/// (NIST Handbook 44, appendix C, from memory).
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn places_pans_parts_of_packs_and_units_add_up() {
    let (house, manager) = open().await;
    let office = house.person(Role::Office).await;
    let item = |title: &str, base: &str, unit: &str, bridge: Value| {
        json!({ "title": title, "group": "food", "base": base, "bridge": bridge,
            "rhythm": { "every": "week", "on": "sun" },
            "shelves": [{ "place": "dry-store", "unit": unit }] })
    };
    for (code, document) in [
        ("oil", item("Oil", "volume", "l", json!({ "density": "0.92" }))),
        ("box", item("Box", "count", "each", json!({}))),
        ("bun", item("Bun", "count", "each", json!({ "each": "55" }))),
        ("milk", item("Milk", "volume", "l", json!({}))),
    ] {
        network::put(&house, &office.token, "items", code, document).await;
    }
    let cold = |value, unit| staged("potato", "cold-room", "trim", value, unit);
    let lines = [
        line("potato", "dry-store", "3.5", "bag"),
        line("potato", "dry-store", "10", "lb"),
        line("potato", "dry-store", "8", "oz"),
        with(cold("10.2", "kg"), "pan", "deep"),
        cold("0", "kg"),
        line("oil", "dry-store", "1", "gal"),
        line("oil", "dry-store", "4", "cup"),
        line("oil", "dry-store", "9.2", "kg"),
        line("box", "dry-store", "2.5", "dozen"),
        line("bun", "dry-store", "1.1", "kg"),
    ];
    let found = submit(&house, &manager, &ford(), &count(&lines)).await;
    let lines = found["count"]["lines"].as_array().expect("lines");
    let shown: Vec<_> = lines
        .iter()
        .map(|l| {
            let amount = &l["as_purchased"];
            format!("{} {}", amount["value"].as_str().unwrap(), amount["unit"].as_str().unwrap())
        })
        .collect();
    assert_eq!(
        shown,
        // The pan's 1.2 kg are off before 9 kg of trimmed become 10 as purchased.
        [
            "79.38 kg", "4.536 kg", "0.227 kg", "10 kg", "0 kg", "3.785 l", "0.946 l", "10 l",
            "30 each", "20 each"
        ]
    );

    let refused = |lines: Vec<Value>| {
        let body = with(with(count(&lines), "complete", false), "reason", "Again");
        let (house, manager) = (&house, &manager);
        async move { put(house, manager, ("If-Match", "*"), &body).await }
    };
    for (what, bad) in [
        ("milk has no density", line("milk", "dry-store", "2", "kg")),
        ("potatoes have no each-weight", line("potato", "dry-store", "2", "dozen")),
        ("no such pack", line("potato", "dry-store", "2", "crate")),
        ("lighter than the pan", with(cold("1.1", "kg"), "pan", "deep")),
        ("no such pan", with(cold("9", "kg"), "pan", "shallow")),
        ("no such stage", staged("potato", "cold-room", "chill", "2", "kg")),
        ("no such item", line("truffle", "dry-store", "2", "kg")),
    ] {
        let reply = refused(vec![cold("1", "kg"), bad]).await;
        let pointers = reply.expect_problem(422, "invalid").pointers();
        assert_eq!(pointers, ["/lines/1"], "{what}: {}", reply.text);
    }
    let nowhere = refused(vec![line("potato", "attic", "2", "kg")]).await;
    assert_eq!(nowhere.expect_problem(422, "invalid").pointers(), ["/lines/0/place"]);
    let below = refused(vec![line("potato", "dry-store", "-2", "kg")]).await;
    assert_eq!(below.expect_problem(422, "invalid").pointers(), ["/lines/0/quantity/value"]);
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn who_counted_goes_no_higher_than_the_manager() {
    let (house, manager) = open().await;
    let body = with(count(&both("4", "9")), "counted_by", json!(["Sam", "Kim"]));
    submit(&house, &manager, &ford(), &body).await;
    let coach = house.person(role(Role::Coach, "upper")).await;
    let owner = house.person(role(Role::Owner, "brook")).await;
    let office = house.person(Role::Office).await;
    let told = receipt(&house, &manager, &ford()).await;
    assert_eq!(told["count"]["counted_by"], json!(["Sam", "Kim"]));
    let by = &revisions(&house, &manager).await[0]["submitted_by"];
    assert_eq!(by["id"], json!(manager.id.0));
    for person in [&coach, &owner, &office] {
        let found = receipt(&house, person, &ford()).await;
        assert_eq!(found["count"]["revision"], 1);
        assert!(found["count"].get("counted_by").is_none(), "{found}");
        assert!(revisions(&house, person).await[0].get("submitted_by").is_none());
    }
}

/// The store's business day turns at 05:00 in Berlin (UTC+2 in June).
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn after_midnight_it_is_still_the_night_before() {
    let (house, manager) = open().await;
    let at = |text: &str| text.parse::<chrono::DateTime<chrono::Utc>>().expect(text);
    let body = || count(&both("4", "9"));
    let tuesday = night("ford", "2026-06-16");
    for early in ["2026-06-15T22:40:00Z", "2026-06-16T02:59:59Z"] {
        house.clock.set(at(early));
        let refused = house.put(&tuesday, Some(&manager.token), &[CREATE], &body()).await;
        assert_eq!(refused.expect_problem(422, "invalid").pointers(), ["/business_date"]);
        assert!(refused.text.contains("the store's business date is 2026-06-15"));
    }
    // 00:40 local time: last night's count.
    house.clock.set(at("2026-06-15T22:40:00Z"));
    submit(&house, &manager, &ford(), &body()).await;
    // 05:10: the new date has begun, and the night before is still open to an amendment.
    house.clock.set(at("2026-06-16T03:10:00Z"));
    submit(&house, &manager, &tuesday, &body()).await;
    amend(&house, &manager, &ford(), &body()).await;
    for future in ["2026-06-17", "2027-06-16"] {
        let path = night("ford", future);
        let refused = house.put(&path, Some(&manager.token), &[CREATE], &body()).await;
        assert_eq!(refused.expect_problem(422, "invalid").pointers(), ["/business_date"]);
    }
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn entries_in_the_body_add_to_those_of_others_or_nothing_is_saved() {
    let (house, manager) = open().await;
    let crew = house.person(role(Role::Crew, "ford")).await;
    let others = delivery("1", "bag");
    record(&house, &crew, "ford", DATE, std::slice::from_ref(&others)).await.expect(201);

    let waste = |reason: &str| {
        entry("waste", "potato", json!({ "reason": reason, "quantity": typed("2", "kg") }))
    };
    let nothing_saved = async |body: &Value, status, kind, pointers: &[&str]| {
        let refused = put(&house, &manager, CREATE, body).await;
        assert_eq!(refused.expect_problem(status, kind).pointers(), pointers);
        let found = receipt(&house, &manager, &ford()).await;
        assert!(found.get("count").is_none() && found["waste"] == json!([]), "{found}");
    };
    let bad = json!([waste("expired"), waste("boredom")]);
    let body = with(count(&both("4", "9")), "entries", bad);
    nothing_saved(&body, 422, "invalid", &["/entries/1/reason"]).await;
    let trim = with(body.clone(), "entries", json!([waste("normal-trim")]));
    nothing_saved(&trim, 422, "invalid", &["/entries/0/reason"]).await;
    // The id of somebody else's entry.
    let taken = with(waste("expired"), "id", others["id"].clone());
    let taken = with(body.clone(), "entries", json!([waste("expired"), taken]));
    nothing_saved(&taken, 422, "id-taken", &[]).await;
    // Every fault at once, of lines and entries alike.
    let all = with(taken, "lines", json!([line("truffle", "dry-store", "1", "kg")]));
    let all = with(all, "entries", json!([waste("boredom")]));
    let places = ["/lines/0", "/lines", "/lines", "/entries/0/reason"];
    nothing_saved(&all, 422, "invalid", &places).await;

    // The refused submission may be put right under the id it had.
    let right = with(body, "entries", json!([waste("expired")]));
    let found = submit(&house, &manager, &ford(), &right).await;
    assert_eq!(of_item(&found, "potato")["wasted"]["value"], "2");
    let path = format!("/v1/stores/ford/entries?business_date={DATE}");
    let listed = house.get(&path, Some(&manager.token)).await;
    let by: Vec<_> = listed.expect(200).json["items"].as_array().unwrap().clone();
    assert_eq!(by.len(), 2);
    assert!(by.iter().any(|e| e["entry"]["id"] == others["id"] || e["id"] == others["id"]));
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn what_is_beyond_reason_is_refused_in_its_place() {
    let (house, manager) = open().await;
    let potato = |value: &str, unit: &str| json!([line("potato", "dry-store", value, unit)]);
    let sold = |member: &str, value: Value| {
        json!([with(json!({ "product": "fries", "size": "one", "units": 1 }), member, value)])
    };
    let waste = json!({ "reason": "expired", "quantity": typed("1", "kg"), "daypart": "brunch" });
    for (member, value, place) in [
        ("lines", potato("1000000000", "bag"), "/lines/0/quantity/value"),
        ("lines", potato("0.0000000000000000001", "kg"), "/lines/0/quantity/value"),
        ("units_sold", sold("units", json!(100_001)), "/units_sold/0/units"),
        ("units_sold", sold("units", json!(-1)), "/units_sold/0/units"),
        ("units_sold", sold("daypart", json!("brunch")), "/units_sold/0/daypart"),
        ("units_sold", sold("channel", json!("pigeon")), "/units_sold/0/channel"),
        ("units_sold", sold("size", json!("vast")), "/units_sold/0"),
        ("net_sales", json!("900000000000000"), "/net_sales"),
        ("net_sales", json!("-5"), "/net_sales"),
        ("entries", json!([entry("waste", "potato", waste)]), "/entries/0/daypart"),
        ("reason", json!("x".repeat(501)), "/reason"),
        ("counted_by", json!(["Sam", " "]), "/counted_by/1"),
        ("counted_by", json!(["x".repeat(201)]), "/counted_by/0"),
        ("counted_by", json!(vec!["Sam"; 21]), "/counted_by"),
        ("device_time", json!("2026-06-15 20:00"), "/device_time"),
        ("complete", json!("yes"), "/complete"),
    ] {
        let body = with(with(count(&[]), "complete", false), member, value);
        let refused = put(&house, &manager, CREATE, &body).await;
        let pointers = refused.expect_problem(422, "invalid").pointers();
        assert_eq!(pointers, [place], "{member}: {}", refused.text);
    }
    // The most that is taken can also be added up.
    let most = json!({ "product": "fries", "size": "one", "units": 100_000 });
    let body = with(with(count(&[]), "complete", false), "units_sold", json!(vec![most; 2_000]));
    let found = submit(&house, &manager, &ford(), &body).await;
    assert_eq!(found["units"], 200_000_000);
}
