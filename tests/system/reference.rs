//! Reference documents over HTTP: valid time, recorded time, preconditions, faults, visibility.

use chrono::TimeDelta;
use parings::app::ground::catalog;
use parings::cluster::roles::OWNER;
use parings::context::Caller;
use parings::edge::new_id;
use parings::starting;
use parings_core::access::Role;
use parings_core::calendar::{BusinessDate, DateSpan};
use parings_core::catalog::StoreTimeline;
use parings_core::rollup::Scope;
use parings_tests::house::{House, Sending, first_moment};
use parings_tests::network::{self, CREATE, change, put};
use parings_tests::{Reply, house};
use serde_json::{Value, json};

async fn office(house: &House) -> String {
    house.person(Role::Office).await.token
}

async fn price_on(house: &House, token: &str, query: &str) -> Value {
    let path = format!("/v1/reference/prices/potato{query}");
    house.get(&path, Some(token)).await.expect(200).json["document"]["price"].clone()
}

async fn put_price(
    house: &House,
    token: &str,
    precondition: (&str, &str),
    from: &str,
    price: &str,
    reason: Option<&str>,
) -> Reply {
    let document = json!({ "price": price, "per": { "value": "1", "unit": "bag" } });
    let mut body = change(from, document);
    body["reason"] = json!(reason);
    house.put("/v1/reference/prices/potato", Some(token), &[precondition], &body).await
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_price_changes_from_a_date_on_and_the_past_is_restated_with_a_reason() {
    let house = house().await;
    let token = office(&house).await;
    network::open(&house, &token).await;
    // The first version may start in the past without a reason: nothing was said before.
    let first = put_price(&house, &token, CREATE, "2026-01-01", "20.41", None).await;
    assert_eq!(first.expect(201).header("etag"), format!("\"{}\"", first.json["version"]));
    let before = house.clock.now();
    house.clock.set(before + TimeDelta::hours(1));

    let tag = first.header("etag");
    let next = put_price(&house, &token, ("If-Match", tag), "2026-07-01", "22", None).await;
    next.expect(200);
    assert_eq!(price_on(&house, &token, "").await, "20.41");
    assert_eq!(price_on(&house, &token, "?on=2026-06-30").await, "20.41");
    assert_eq!(price_on(&house, &token, "?on=2026-07-01").await, "22");
    // As known before the change was recorded.
    let known = format!("?on=2026-07-01&known_at={}", before.to_rfc3339().replace('+', "%2B"));
    assert_eq!(price_on(&house, &token, &known).await, "20.41");

    // Today is 15 June: the same day is not the future.
    for from in ["2026-06-15", "2026-03-01"] {
        let refused = put_price(&house, &token, ("If-Match", tag), from, "19", None).await;
        assert_eq!(refused.expect_problem(422, "invalid").pointers(), ["/reason"]);
    }
    let why = "The supplier's letter came late";
    house.clock.set(before + TimeDelta::hours(2));
    let restated =
        put_price(&house, &token, ("If-Match", tag), "2026-03-01", "19", Some(why)).await;
    assert_eq!(restated.expect(200).json["reason"], why);
    assert_eq!(price_on(&house, &token, "?on=2026-02-28").await, "20.41");
    assert_eq!(price_on(&house, &token, "?on=2026-03-01").await, "19");
    assert_eq!(price_on(&house, &token, "?on=2026-07-01").await, "22");
    let known = (before + TimeDelta::hours(1)).to_rfc3339().replace('+', "%2B");
    let past = format!("?on=2026-03-01&known_at={known}");
    assert_eq!(price_on(&house, &token, &past).await, "20.41");

    let all = house.get("/v1/reference/prices/potato/versions", Some(&token)).await;
    let from = |v: &Value| v["valid_from"].as_str().unwrap().to_owned();
    let recorded: Vec<_> =
        all.expect(200).json["items"].as_array().unwrap().iter().map(from).collect();
    assert_eq!(recorded, ["2026-03-01", "2026-07-01", "2026-01-01"]);
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_change_says_what_it_expects_and_can_be_sent_again() {
    let house = house().await;
    let token = office(&house).await;
    let path = "/v1/reference/regions/coast";
    let body = change("2026-07-01", json!({ "title": "Coast" }));
    let send = async |headers: &[(&str, &str)], body: &Value| {
        house.put(path, Some(&token), headers, body).await
    };
    send(&[], &body).await.expect_problem(428, "precondition-required");
    send(&[("If-Match", "*")], &body).await.expect_problem(412, "precondition-failed");
    let made = send(&[CREATE], &body).await;
    let tag = made.expect(201).header("etag").to_owned();

    // A resend is answered with the first answer, although it would not be one to create by now.
    let again = send(&[CREATE], &body).await;
    assert_eq!((again.expect(201).json.clone(), again.header("etag")), (made.json, tag.as_str()));
    let mut other = body.clone();
    other["document"]["title"] = json!("Shore");
    send(&[CREATE], &other).await.expect_problem(422, "id-taken");

    let changed = change("2026-07-01", json!({ "title": "Shore" }));
    send(&[CREATE], &changed).await.expect_problem(412, "precondition-failed");
    // RFC 9110, section 8.8.3.2 (from memory): a weak ETag never matches strongly.
    let weak = format!("W/{tag}");
    send(&[("If-Match", &weak)], &changed).await.expect_problem(412, "precondition-failed");
    send(&[("If-Match", &tag)], &changed).await.expect(200);
    let late = change("2026-07-01", json!({ "title": "Beach" }));
    send(&[("If-Match", &tag)], &late).await.expect_problem(412, "precondition-failed");

    let detail = house
        .pg(parings::cluster::SUPERUSER)
        .await
        .query("SELECT action FROM audit WHERE target = 'regions coast' ORDER BY id", &[])
        .await
        .expect("audit rows");
    let actions: Vec<String> = detail.iter().map(|row| row.get(0)).collect();
    assert_eq!(actions, ["change reference", "change reference"]);
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn every_fault_is_told_with_its_place() {
    let house = house().await;
    let token = office(&house).await;
    network::open(&house, &token).await;
    let refused = async |path: &str, document: Value| {
        let body = change("2026-07-01", document);
        let reply = house.put(path, Some(&token), &[CREATE], &body).await;
        reply.expect_problem(422, "invalid");
        reply.pointers().into_iter().map(str::to_owned).collect::<Vec<_>>()
    };
    // Of another shape: the first place that does not fit.
    let item = "/v1/reference/items/beans";
    assert_eq!(refused(item, json!({ "title": 5 })).await, ["/document/title"]);
    assert_eq!(refused(item, json!({ "titel": "x" })).await, ["/document/titel"]);
    // Of the right shape, with values that cannot be.
    let bad = json!({
        "title": " ", "group": "food", "base": "mass", "rhythm": { "every": "night" },
        "packs": [{ "code": "Bag", "title": "Bag", "holds": { "value": "-1", "unit": "kg" } }],
        "bridge": { "density": 0 },
        "shelves": [{ "place": "a/b", "unit": "kg" }],
        "stages": [{ "code": "trim", "title": "Trim", "standard": "3", "cap": "1", "low": "0.9", "high": 1 }],
    });
    let places = [
        "/document/title",
        "/document/packs/0/code",
        "/document/packs/0/holds/value",
        "/document/bridge/density",
        "/document/shelves/0/place",
        "/document/stages/0/standard",
    ];
    assert_eq!(refused(item, bad).await, places);
    // Sound by itself, with names that nothing has.
    let lost = json!({
        "title": "Beans", "group": "food", "base": "mass", "rhythm": { "every": "night" },
        "shelves": [{ "place": "attic", "unit": "sack" }],
    });
    let places = ["/document/shelves/0/unit", "/document/shelves/0/place"];
    assert_eq!(refused(item, lost).await, places);
    assert_eq!(refused("/v1/reference/regions/Not-A-Code", json!({ "title": "x" })).await, [""]);
    house.get("/v1/reference/nonsense", Some(&token)).await.expect_problem(404, "not-found");
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn what_others_name_stays_and_what_they_need_of_it_too() {
    let house = house().await;
    let token = office(&house).await;
    network::open(&house, &token).await;
    let retire = async |path: &str| {
        let on = "?on=2026-07-01";
        let tag = house.get(&format!("{path}{on}"), Some(&token)).await;
        let tag = tag.expect(200).header("etag").to_owned();
        let body = json!({ "valid_from": "2026-07-01", "reason": "Gone" });
        let key = new_id().to_string();
        let headers = [("If-Match", tag.as_str()), ("Idempotency-Key", key.as_str())];
        let sending = Sending { token: Some(&token), headers: &headers, json: Some(&body) };
        house.send(reqwest::Method::POST, &format!("{path}/retire"), sending).await
    };
    let refused = retire("/v1/reference/items/potato").await;
    refused.expect_problem(409, "conflict");
    assert!(refused.text.contains("products fries"), "{}", refused.text);
    retire("/v1/reference/places/dry-store").await.expect_problem(409, "conflict");

    // Fries are stated at the stage "trim": the item cannot lose it.
    let path = "/v1/reference/items/potato";
    let tag = house.get(path, Some(&token)).await.header("etag").to_owned();
    let mut without = network::potato();
    without["stages"] = json!([]);
    without["shelves"] = json!([{ "place": "dry-store", "unit": "bag" }]);
    let body = change("2026-07-01", without);
    let refused = house.put(path, Some(&token), &[("If-Match", &tag)], &body).await;
    refused.expect_problem(409, "conflict");
    assert!(refused.text.contains("products fries"), "{}", refused.text);

    retire("/v1/reference/products/fries").await.expect(200);
    retire(path).await.expect(200);
    house.get(&format!("{path}?on=2026-06-30"), Some(&token)).await.expect(200);
    house
        .get(&format!("{path}?on=2026-07-01"), Some(&token))
        .await
        .expect_problem(404, "not-found");
    // Nothing may come to name it after its end.
    let body = change("2026-06-20", network::fries());
    let refused = house.put("/v1/reference/products/chips", Some(&token), &[CREATE], &body).await;
    assert_eq!(refused.expect_problem(422, "invalid").pointers(), ["/document"]);
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn everybody_reads_and_only_head_office_edits() {
    let house = house().await;
    let token = office(&house).await;
    network::open(&house, &token).await;
    for role in network::roles() {
        let word = role.word();
        let person = house.person(role).await.token;
        house.get("/v1/reference/items/potato", Some(&person)).await.expect(200);
        let body = change("2026-07-01", json!({ "title": "Mine" }));
        let path = "/v1/reference/regions/mine";
        let reply = house.put(path, Some(&person), &[CREATE], &body).await;
        match word {
            "office" => reply.expect(201),
            _ => reply.expect_problem(403, "forbidden"),
        };
    }
}

fn codes(reply: &Reply, member: &str) -> Vec<String> {
    let items = reply.expect(200).json["items"].as_array().expect("items");
    items.iter().map(|item| item[member].as_str().unwrap_or_default().to_owned()).collect()
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_store_is_seen_by_those_it_concerns_and_leaves_with_its_move() {
    let house = house().await;
    let token = office(&house).await;
    network::open(&house, &token).await;
    let coach = |district: &str| Role::Coach(vec![district.parse().unwrap()]);
    let upper = house.person(coach("upper")).await.token;
    let lower = house.person(coach("lower")).await.token;
    let seen = async |token: &str| codes(&house.get("/v1/stores", Some(token)).await, "code");
    assert_eq!(seen(&token).await, ["ford", "weir"]);
    assert_eq!(seen(&upper).await, ["ford"]);
    assert_eq!(seen(&lower).await, ["weir"]);
    house.get("/v1/stores/weir", Some(&upper)).await.expect_problem(404, "not-found");
    house.get("/v1/reference/stores/weir", Some(&upper)).await.expect_problem(404, "not-found");
    let all = house.get("/v1/reference/stores", Some(&upper)).await;
    assert_eq!(codes(&all, "code"), ["ford"]);

    // Ford moves from upper to lower on 1 July.
    let tag = house.get("/v1/reference/stores/ford", Some(&token)).await.header("etag").to_owned();
    let body = change("2026-07-01", network::store("Ford", "lower", "brook"));
    let path = "/v1/reference/stores/ford";
    house.put(path, Some(&token), &[("If-Match", &tag)], &body).await.expect(200);
    assert_eq!(seen(&upper).await, ["ford"]);
    house.clock.set(first_moment() + TimeDelta::days(20));
    assert!(seen(&upper).await.is_empty(), "the old row alone does not keep it in sight");
    house.get("/v1/stores/ford", Some(&upper)).await.expect_problem(404, "not-found");
    house.get(path, Some(&upper)).await.expect_problem(404, "not-found");
    house.get(&format!("{path}?on=2026-06-30"), Some(&upper)).await.expect(200);
    house
        .get(&format!("{path}?on=2026-06-30"), Some(&lower))
        .await
        .expect_problem(404, "not-found");
    assert_eq!(seen(&lower).await, ["ford", "weir"]);
    let ford = house.get("/v1/stores/ford", Some(&lower)).await;
    assert_eq!(ford.expect(200).json["region"], "coast");
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn lists_come_in_pages() {
    let house = house().await;
    let token = office(&house).await;
    for code in ["a", "b", "c"] {
        put(&house, &token, "regions", code, json!({ "title": code })).await;
    }
    let first = house.get("/v1/reference/regions?limit=2", Some(&token)).await;
    assert_eq!(codes(&first, "code"), ["a", "b"]);
    let next = first.json["next"].as_str().expect("another page");
    let path = format!("/v1/reference/regions?limit=2&after={next}");
    let second = house.get(&path, Some(&token)).await;
    assert_eq!(codes(&second, "code"), ["c"]);
    assert!(second.json.get("next").is_none());
    for bad in ["?limit=0", "?after=x"] {
        let path = format!("/v1/reference/regions{bad}");
        house.get(&path, Some(&token)).await.expect_problem(422, "invalid");
    }
    for bad in ["?on=yesterday", "?known_at=2026-01-01", "?nonsense=1"] {
        let path = format!("/v1/reference/regions{bad}");
        house.get(&path, Some(&token)).await.expect_problem(400, "unreadable");
    }
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn the_starting_values_are_put_in_once() {
    let house = house().await;
    let owner = house.database.url(OWNER);
    assert_eq!(starting::put(&owner).await.unwrap(), starting::documents().unwrap().len());
    assert_eq!(starting::put(&owner).await.unwrap(), 0);
    let token = office(&house).await;
    let path = "/v1/reference/settings/network?on=2000-01-01&known_at=2000-01-01T00:00:00Z";
    let settings = house.get(path, Some(&token)).await;
    assert_eq!(settings.expect(200).json["document"]["currency"], "EUR");
    assert!(settings.json.get("recorded_by").is_none());
    let reasons = house.get("/v1/reference/reasons?limit=200", Some(&token)).await;
    assert_eq!(codes(&reasons, "code").len(), 17);
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn where_stores_stood_is_told_by_date() {
    let house = house().await;
    let token = office(&house).await;
    network::open(&house, &token).await;
    let tag = house.get("/v1/reference/stores/ford", Some(&token)).await.header("etag").to_owned();
    let body = change("2026-07-01", network::store("Ford", "lower", "brook"));
    let path = "/v1/reference/stores/ford";
    house.put(path, Some(&token), &[("If-Match", &tag)], &body).await.expect(200);

    let [june, july] = ["2026-06-30", "2026-07-01"].map(|d| d.parse::<BusinessDate>().unwrap());
    let span = DateSpan::new(june, july).unwrap();
    let stood = async |role: Role, scope: &str| {
        let scope: Scope = scope.parse().unwrap();
        let person = house.person(role).await.id;
        let caller = Caller { person, session: None, request_id: "test".to_owned() };
        let network = house
            .deps
            .acting(&caller, async |conn, ctx| catalog::stores(conn, &scope, span, ctx.now).await)
            .await
            .expect("a network");
        let at = |store: &StoreTimeline, date| {
            let standing = network.standing(store, date);
            standing.map_or("-".to_owned(), |s| format!("{}/{}", s.region, s.district))
        };
        let shown = |s: &StoreTimeline| format!("{}: {} {}", s.store, at(s, june), at(s, july));
        network.stores.iter().map(shown).collect::<Vec<_>>()
    };
    let all = ["ford: valley/upper coast/lower", "weir: coast/lower coast/lower"];
    assert_eq!(stood(Role::Office, "network").await, all);
    // A scope's stores come with their whole past, whichever other scope that was in.
    assert_eq!(stood(Role::Office, "district:upper").await, [all[0]]);
    assert_eq!(stood(Role::Office, "district:lower").await, all);
    assert_eq!(stood(Role::Office, "owner:brook").await, [all[0]]);
    assert_eq!(stood(Role::Office, "store:weir").await, [all[1]]);
    assert_eq!(stood(Role::Office, "district:nowhere").await, [""; 0]);
    let coach = |district: &str| Role::Coach(vec![district.parse().unwrap()]);
    assert_eq!(stood(coach("upper"), "network").await, ["ford: valley/upper -"]);
    let seen = ["ford: - coast/lower", all[1]];
    assert_eq!(stood(coach("lower"), "network").await, seen);
    assert_eq!(stood(coach("lower"), "district:lower").await, seen);
    assert_eq!(stood(Role::Owner(vec!["brook".parse().unwrap()]), "network").await, [all[0]]);
}
