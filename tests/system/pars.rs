//! Standard pars, from head office's draft to what a store is to prepare, and back. The amounts are an
//! invented worked example; the rule that rounds up to whole batches is common practice, no source.

use parings::cluster::SUPERUSER;
use parings::cluster::roles::APP;
use parings::edge::new_id;
use parings_core::access::Role;
use parings_core::calendar::instant;
use parings_tests::house::{House, Person, Sending, house};
use parings_tests::network::{self, CREATE};
use parings_tests::night::{count, entry, line, night, record, role, staged, submit, typed, with};
use parings_tests::reply::Reply;
use parings_tests::worked;
use reqwest::Method;
use serde_json::{Value, json};

/// Chilled potatoes for dinner on all days, in kg, in batches of 15.29 kg.
fn set(title: &str, kg: &str) -> Value {
    json!({
        "title": title,
        "lines": [par(kg, "dinner")],
        "batches": [{ "item": "potato", "stage": "chill", "quantity": typed("15.29", "kg") }],
    })
}

fn par(kg: &str, daypart: &str) -> Value {
    json!({ "item": "potato", "stage": "chill", "quantity": typed(kg, "kg"),
        "weekdays": ["mon", "tue", "wed", "thu", "fri", "sat", "sun"], "dayparts": [daypart] })
}

async fn draft(house: &House, office: &Person, code: &str, document: &Value) -> Reply {
    let body = json!({ "submission_id": new_id(), "document": document });
    house.put(&format!("/v1/par-sets/{code}"), Some(&office.token), &[CREATE], &body).await
}

async fn post(house: &House, by: &Person, path: &str, etag: &str, body: &Value) -> Reply {
    let key = new_id().to_string();
    let headers = [("Idempotency-Key", key.as_str()), ("If-Match", etag)];
    let sending = Sending { token: Some(&by.token), headers: &headers, json: Some(body) };
    house.send(Method::POST, path, sending).await
}

async fn publish(house: &House, office: &Person, code: &str, from: &str, reason: &str) -> Reply {
    let body = json!({ "from": from, "reason": reason });
    post(house, office, &format!("/v1/par-sets/{code}/publish"), "*", &body).await
}

async fn roll_back(house: &House, office: &Person, reason: &str) -> Reply {
    let body = json!({ "reason": reason });
    post(house, office, "/v1/par-publications/roll-back", "*", &body).await
}

async fn pars(house: &House, by: &Person, store: &str, date: &str) -> Value {
    let path = format!("/v1/stores/{store}/pars?date={date}");
    house.get(&path, Some(&by.token)).await.expect(200).json.clone()
}

async fn prep(house: &House, by: &Person, date: &str) -> Value {
    let path = format!("/v1/stores/ford/prep?date={date}&daypart=dinner");
    house.get(&path, Some(&by.token)).await.expect(200).json.clone()
}

/// A line of chilled potatoes with its discard time.
fn chilled(kg: &str, discard_at: &str) -> Value {
    with(staged("potato", "cold-room", "chill", kg, "kg"), "discard_at", discard_at)
}

fn at(text: &str) -> chrono::DateTime<chrono::Utc> {
    instant::parse(text).expect(text)
}

fn kg(value: &str) -> Value {
    typed(value, "kg")
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_par_travels_from_a_draft_to_what_is_prepared_and_back() {
    let house = house().await;
    let office = house.person(Role::Office).await;
    worked::start(&house, &office.token).await;
    let manager = house.person(role(Role::Manager, "ford")).await;
    let crew = house.person(role(Role::Crew, "ford")).await;
    assert_eq!(pars(&house, &crew, "ford", "2026-06-16").await["pars"], json!([]));

    // 20:30 UTC on Monday the 15th is 22:30 in Berlin.
    house.clock.set(at("2026-06-15T20:30:00Z"));
    draft(&house, &office, "spring", &set("Spring", "72")).await.expect(201);
    let published = publish(&house, &office, "spring", "2026-06-16", "To begin with").await;
    assert_eq!(published.expect(201).json["then"], json!([]));
    // 23 kg on hand, of which 4 expire before dinner at 17:00 in Berlin (15:00 UTC).
    let closing = count(&[
        line("potato", "dry-store", "4", "bag"),
        chilled("19", "2026-06-17T15:00:00Z"),
        chilled("4", "2026-06-16T12:00:00Z"),
    ]);
    submit(&house, &manager, &night("ford", "2026-06-15"), &closing).await;

    let found = prep(&house, &crew, "2026-06-16").await;
    assert_eq!(found["needed_at"], "2026-06-16T15:00:00Z");
    assert_eq!(found["in_force"]["set"], "spring");
    assert_eq!(found["in_force"]["reason"], "To begin with");
    let potato = &found["items"][0];
    assert_eq!(potato["par"]["rule"], "default");
    assert_eq!(potato["on_hand"]["amount"], kg("23"));
    assert_eq!(potato["on_hand"]["counted_on"], "2026-06-15");
    let first = json!({ "amount": kg("4"), "discard_at": "2026-06-16T12:00:00Z" });
    assert_eq!(potato["on_hand"]["lots"][0], first);
    assert_eq!(potato["usable"], json!({ "amount": kg("19") }));
    let need = &potato["need"];
    assert_eq!(need["missing"], kg("53"));
    // 4 × 15.29 = 61.16; 19 + 61.16 = 80.16, 8.16 over 72; 3 batches are 7.13 short.
    assert_eq!(need["make"]["batches"], "4");
    assert_eq!(need["make"]["makes"], kg("61.16"));
    assert_eq!(need["make"]["lands_at"], kg("80.16"));
    assert_eq!(need["make"]["overshoot"], kg("8.16"));
    assert_eq!(need["one_batch_fewer"]["batches"], "3");
    assert_eq!(need["one_batch_fewer"]["shortfall"], kg("7.13"));
    assert!(potato.get("need_if_all_is_usable").is_none(), "{potato}");

    // A copy of what is in force, changed and put in force two days later.
    house.clock.set(at("2026-06-16T20:00:00Z"));
    let body = json!({ "submission_id": new_id() });
    let path = "/v1/par-sets/summer";
    let copy = house.put(path, Some(&office.token), &[CREATE], &body).await;
    let copied = &copy.expect(201).json["document"];
    assert_eq!((&copied["title"], &copied["lines"][0]["quantity"]), (&json!("Spring"), &kg("72")));
    let body = json!({ "submission_id": new_id(), "document": set("Summer", "80") });
    let headers = [("If-Match", copy.header("etag"))];
    house.put(path, Some(&office.token), &headers, &body).await.expect(200);
    let path = "/v1/par-sets/summer/difference?on=2026-06-18";
    let difference = house.get(path, Some(&office.token)).await.expect(200).json.clone();
    assert_eq!(difference["in_force"]["set"], "spring");
    assert_eq!(difference["errors"], json!([]));
    let changed = &difference["pars"][0];
    assert_eq!((&changed["change"], &changed["of"]), (&json!("changed"), &json!("default")));
    assert_eq!(changed["before"]["quantity"], kg("72"));
    assert_eq!(changed["after"]["quantity"], kg("80"));
    assert_eq!(changed["weekdays"].as_array().map(Vec::len), Some(7));
    publish(&house, &office, "summer", "2026-06-18", "More dinners").await.expect(201);

    let before = pars(&house, &crew, "ford", "2026-06-17").await;
    assert_eq!(before["in_force"]["set"], "spring");
    assert!(before["pars"][0].get("changed").is_none(), "{before}");
    let after = pars(&house, &crew, "ford", "2026-06-18").await;
    assert_eq!(after["pars"][0]["amount"], kg("80"));
    let changed = &after["pars"][0]["changed"];
    assert_eq!(changed["old"]["quantity"], kg("72"));
    assert_eq!(changed["new"]["quantity"], kg("80"));
    assert_eq!(changed["reason"], "More dinners");
    assert_eq!(changed["since"], "2026-06-18");

    // Back in one action, from the next date; the date that has begun keeps what it had.
    house.clock.set(at("2026-06-18T10:00:00Z"));
    let back = roll_back(&house, &office, "Too much").await;
    let back = &back.expect(201).json;
    assert_eq!((&back["set"], &back["from"]), (&json!("spring"), &json!("2026-06-19")));
    assert!(back["rolls_back"].is_number(), "{back}");
    assert_eq!(pars(&house, &crew, "ford", "2026-06-18").await["in_force"]["set"], "summer");
    let after = pars(&house, &crew, "ford", "2026-06-19").await;
    assert_eq!(after["in_force"]["rolled_back"], true);
    assert_eq!(after["pars"][0]["amount"], kg("72"));
    assert_eq!(after["pars"][0]["changed"]["old"]["quantity"], kg("80"));
    assert_eq!(after["pars"][0]["changed"]["reason"], "Too much");

    // As it was known before the roll-back, and before anything.
    let as_known = async |moment: &str| {
        let path = format!("/v1/stores/ford/pars?date=2026-06-19&as_known_at={moment}");
        house.get(&path, Some(&crew.token)).await.expect(200).json.clone()
    };
    assert_eq!(as_known("2026-06-18T09:59:00Z").await["in_force"]["set"], "summer");
    assert_eq!(as_known("2026-06-16T19:59:00Z").await["in_force"]["set"], "spring");
    assert!(as_known("2026-06-15T20:29:00Z").await.get("in_force").is_none());
    let path = "/v1/par-publications?limit=2";
    let newest = house.get(path, Some(&office.token)).await.expect(200).json.clone();
    let said: Vec<_> =
        newest["items"].as_array().expect("items").iter().map(|p| &p["set"]).collect();
    assert_eq!(said, ["spring", "summer"]);
    let next = newest["next"].as_str().expect("a next page");
    let path = format!("{path}&after={next}");
    let rest = house.get(&path, Some(&office.token)).await.expect(200).json.clone();
    assert_eq!(rest["items"].as_array().map(Vec::len), Some(1));

    let audit = house.get("/v1/audit", Some(&office.token)).await.expect(200).json.clone();
    let noted: Vec<_> =
        audit["items"].as_array().expect("rows").iter().map(|row| &row["action"]).collect();
    for (action, times) in [("draft pars", 3), ("publish pars", 2), ("roll back pars", 1)] {
        assert_eq!(noted.iter().filter(|noted| **noted == action).count(), times, "{action}");
    }
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_date_that_has_begun_somewhere_is_refused_with_the_earliest_that_has_not() {
    let house = house().await;
    let office = house.person(Role::Office).await;
    worked::start(&house, &office.token).await;
    let far = with(network::store("Far", "lower", "hill"), "zone", "Pacific/Auckland");
    network::put(&house, &office.token, "stores", "far", far).await;
    draft(&house, &office, "spring", &set("Spring", "72")).await.expect(201);
    // 20:00 UTC on the 15th: still the 15th in Berlin, the 16th in Auckland since 05:00 there.
    for begun in ["2026-06-10", "2026-06-15", "2026-06-16"] {
        let refused = publish(&house, &office, "spring", begun, "Now").await;
        refused.expect_problem(422, "invalid");
        assert_eq!(refused.pointers(), ["/from"]);
        let says = refused.json["errors"][0]["detail"].as_str().unwrap_or_default();
        assert_eq!(
            says,
            format!("{begun} has begun in Far: 2026-06-17 is the earliest that has begun nowhere")
        );
    }
    publish(&house, &office, "spring", "2026-06-17", "Then").await.expect(201);
    // Each store reads its own date, by its own clock.
    let managers = [("far", "2026-06-17"), ("weir", "2026-06-17")];
    for (store, date) in managers {
        let manager = house.person(role(Role::Manager, store)).await;
        assert_eq!(pars(&house, &manager, store, date).await["in_force"]["set"], "spring");
        let before = pars(&house, &manager, store, "2026-06-16").await;
        assert!(before.get("in_force").is_none(), "{before}");
    }
    // At 17:01 UTC the 17th has begun in Auckland (05:01), where a roll-back waits for the 18th.
    house.clock.set(at("2026-06-16T17:01:00Z"));
    draft(&house, &office, "summer", &set("Summer", "80")).await.expect(201);
    publish(&house, &office, "summer", "2026-06-17", "Late").await.expect_problem(422, "invalid");
    publish(&house, &office, "summer", "2026-06-18", "Then").await.expect(201);
    // It has not begun, so it is taken back in its place.
    let back = roll_back(&house, &office, "A mistake").await;
    assert_eq!(back.expect(201).json["from"], "2026-06-18");
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn of_two_who_revise_a_set_the_second_is_told() {
    let house = house().await;
    let office = house.person(Role::Office).await;
    let other = house.person(Role::Office).await;
    worked::start(&house, &office.token).await;
    let first = draft(&house, &office, "spring", &set("Spring", "72")).await;
    let etag = first.expect(201).header("etag").to_owned();
    let path = "/v1/par-sets/spring";
    let read = house.get(path, Some(&other.token)).await;
    assert_eq!(read.expect(200).header("etag"), etag);

    let headers = [("If-Match", etag.as_str())];
    let change = |kg: &str| json!({ "submission_id": new_id(), "document": set("Spring", kg) });
    let (mine, theirs) = (change("75"), change("69"));
    let done = house.put(path, Some(&office.token), &headers, &mine).await;
    assert_eq!(done.expect(200).json["revision"], 2);
    let late = house.put(path, Some(&other.token), &headers, &theirs).await;
    late.expect_problem(412, "precondition-failed");
    // Sent again it is answered as before; what one saw is what one publishes.
    let again = house.put(path, Some(&office.token), &headers, &mine).await;
    assert_eq!(again.expect(200).json, done.json);
    let body = json!({ "from": "2026-06-17", "reason": "New" });
    let publish = format!("{path}/publish");
    let stale = post(&house, &other, &publish, &etag, &body).await;
    stale.expect_problem(412, "precondition-failed");
    let published = post(&house, &other, &publish, "\"2\"", &body).await;
    assert_eq!(published.expect(201).json["revision"], 2);
    // Both revisions stay; the one in force is not the one being worked on.
    let headers = [("If-Match", "\"2\"")];
    house.put(path, Some(&office.token), &headers, &change("90")).await.expect(200);
    let manager = house.person(role(Role::Manager, "ford")).await;
    let found = pars(&house, &manager, "ford", "2026-06-17").await;
    assert_eq!(
        (&found["in_force"]["revision"], &found["pars"][0]["amount"]),
        (&json!(2), &kg("75"))
    );
    let first = house.get(&format!("{path}?revision=1"), Some(&office.token)).await;
    assert_eq!(first.expect(200).json["document"]["lines"][0]["quantity"], kg("72"));
    house
        .get(&format!("{path}?revision=9"), Some(&office.token))
        .await
        .expect_problem(404, "not-found");
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_format_wins_over_the_default_and_the_difference_says_what_applies() {
    let house = house().await;
    let office = house.person(Role::Office).await;
    worked::start(&house, &office.token).await;
    let manager = house.person(role(Role::Manager, "ford")).await;
    let own = json!([{ "format": "counter", "lines": [par("60", "dinner"), par("20", "lunch")] }]);
    draft(&house, &office, "spring", &with(set("Spring", "72"), "formats", own)).await.expect(201);
    publish(&house, &office, "spring", "2026-06-16", "Counters sell less").await.expect(201);
    let found = pars(&house, &manager, "ford", "2026-06-16").await;
    let said: Vec<_> = found["pars"]
        .as_array()
        .expect("pars")
        .iter()
        .map(|p| (p["daypart"].as_str(), p["par"]["rule"].as_str(), &p["amount"]))
        .collect();
    let expected = [
        (Some("lunch"), Some("format counter"), &kg("20")),
        (Some("dinner"), Some("format counter"), &kg("60")),
    ];
    assert_eq!(said, expected);

    // Without its own par a counter has the default's; 72,000 g is no other amount than 72 kg.
    let grams = with(par("72", "dinner"), "quantity", typed("72000", "g"));
    let plain = json!({ "title": "Plain", "lines": [grams] });
    draft(&house, &office, "plain", &plain).await.expect(201);
    let path = "/v1/par-sets/plain/difference?on=2026-06-17";
    let difference = house.get(path, Some(&office.token)).await.expect(200).json.clone();
    let said: Vec<_> = difference["pars"]
        .as_array()
        .expect("pars")
        .iter()
        .map(|p| {
            (
                p["of"].as_str(),
                p["change"].as_str(),
                p["daypart"].as_str(),
                p["after"]["rule"].as_str(),
            )
        })
        .collect();
    let counter = Some("format counter");
    let expected = [
        (counter, Some("changed"), Some("dinner"), Some("default")),
        (counter, Some("removed"), Some("lunch"), None),
    ];
    assert_eq!(said, expected);
    assert_eq!(difference["batches"][0]["change"], "removed");
    publish(&house, &office, "plain", "2026-06-17", "Plain").await.expect(201);
    let found = pars(&house, &manager, "ford", "2026-06-17").await;
    assert_eq!(found["pars"][0]["changed"]["old"]["rule"], "format counter");
    assert_eq!(found["pars"][1]["changed"]["change"], "removed");
    // Ford stays closed on Sundays: nothing is to be ready, which is not a par of zero.
    let closed = pars(&house, &manager, "ford", "2026-06-21").await;
    assert_eq!((&closed["closed"], &closed["pars"]), (&json!(true), &json!([])));
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn what_does_not_hold_is_told_place_by_place() {
    let house = house().await;
    let office = house.person(Role::Office).await;
    worked::start(&house, &office.token).await;
    let mut twice = set("Spring", "72");
    twice["lines"] = json!([
        par("72", "dinner"),
        par("70", "dinner"),
        with(par("1", "late"), "weekdays", json!([]))
    ]);
    let refused = draft(&house, &office, "spring", &twice).await;
    refused.expect_problem(422, "invalid");
    assert_eq!(refused.pointers(), ["/document/lines/1", "/document/lines/2/weekdays"]);
    let body = json!({ "submission_id": new_id() });
    let path = "/v1/par-sets/spring";
    let nothing = house.put(path, Some(&office.token), &[CREATE], &body).await;
    nothing.expect_problem(422, "invalid");

    // An item that is still to come may be drafted, and not published before it is there.
    let mut soon = set("Spring", "72");
    soon["lines"][0]["item"] = json!("swede");
    soon["lines"][0]["dayparts"] = json!(["tea"]);
    draft(&house, &office, "spring", &soon).await.expect(201);
    let refused = publish(&house, &office, "spring", "2026-06-17", "Soon").await;
    refused.expect_problem(422, "invalid");
    assert_eq!(refused.pointers(), ["/document/lines/0/item", "/document/lines/0/dayparts/0"]);
    let difference = house.get("/v1/par-sets/spring/difference", Some(&office.token)).await;
    let errors = &difference.expect(200).json["errors"];
    assert_eq!(*errors, refused.json["errors"]);
    roll_back(&house, &office, "What?").await.expect_problem(409, "conflict");
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn stock_without_a_discard_time_is_not_known_to_be_usable() {
    let house = house().await;
    let office = house.person(Role::Office).await;
    worked::start(&house, &office.token).await;
    let manager = house.person(role(Role::Manager, "ford")).await;
    let crew = house.person(role(Role::Crew, "ford")).await;
    let spring = with(
        set("Spring", "72"),
        "batches",
        json!([
            // A bag of 22.68 kg: × 0.9 × 0.99 × 0.78 × 0.97 = 15.289 kg chilled.
            { "item": "potato", "quantity": typed("1", "bag"), "halves": true },
        ]),
    );
    draft(&house, &office, "spring", &spring).await.expect(201);
    publish(&house, &office, "spring", "2026-06-16", "To begin with").await.expect(201);

    // Never counted is not nothing.
    let found = prep(&house, &crew, "2026-06-16").await;
    let potato = &found["items"][0];
    assert_eq!(potato["batch"], kg("15.289"));
    assert_eq!(potato["on_hand"], json!({ "lots": [], "unknown": "not_counted" }));
    assert_eq!(potato["usable"], json!({ "unknown": "not_counted" }));
    assert!(potato.get("need").is_none() && potato.get("need_if_all_is_usable").is_none());
    assert_eq!(potato["need_if_none_of_it_is_usable"]["missing"], kg("72"));

    let closing =
        count(&[line("potato", "dry-store", "4", "bag"), chilled("10", "2026-06-17T15:00:00Z")]);
    submit(&house, &manager, &night("ford", "2026-06-15"), &closing).await;
    // A batch of the day before the store's date begins would have been thrown away before it was made.
    house.clock.set(at("2026-06-16T08:00:00Z"));
    let batch = |discard_at: Option<&str>| {
        let made = entry(
            "batch",
            "potato",
            json!({ "put_in": typed("1", "bag"),
            "steps": [{ "stage": "chill", "out": typed("15", "kg") }] }),
        );
        discard_at.map_or(made.clone(), |at| with(made, "discard_at", at))
    };
    let early = batch(Some("2026-06-16T02:59:00Z"));
    let refused = record(&house, &crew, "ford", "2026-06-16", &[early]).await;
    refused.expect_problem(422, "invalid");
    assert_eq!(refused.pointers(), ["/entries/0/discard_at"]);

    let timed = batch(Some("2026-06-18T08:00:00Z"));
    let waste = entry(
        "waste",
        "potato",
        json!({ "stage": "chill", "reason": "dropped", "quantity": typed("2", "kg") }),
    );
    record(&house, &crew, "ford", "2026-06-16", &[timed, waste]).await.expect(201);
    let found = prep(&house, &crew, "2026-06-16").await;
    let potato = &found["items"][0];
    // 10 + 15 − 2; the 2 are taken from what must be thrown away first.
    assert_eq!(potato["usable"], json!({ "amount": kg("23") }));
    assert_eq!(potato["on_hand"]["lots"][0]["amount"], kg("8"));
    // 49 ÷ 15.289 = 3.2: four batches, or three and a half.
    assert_eq!(potato["need"]["make"]["batches"], "4");
    assert_eq!(potato["need"]["half_a_batch_fewer"]["batches"], "3.5");

    record(&house, &crew, "ford", "2026-06-16", &[batch(None)]).await.expect(201);
    for by in [&crew, &manager, &office] {
        let found = prep(&house, by, "2026-06-16").await;
        let potato = &found["items"][0];
        assert_eq!(potato["on_hand"]["amount"], kg("38"));
        let usable = json!({ "unknown": "no_discard_time", "certain": kg("23"),
            "without_discard_time": kg("15") });
        assert_eq!(potato["usable"], usable);
        assert!(potato.get("need").is_none());
        assert_eq!(potato["need_if_all_is_usable"]["missing"], kg("34"));
        assert_eq!(potato["need_if_none_of_it_is_usable"]["missing"], kg("49"));
    }
    let nowhere =
        house.get("/v1/stores/ford/prep?date=2026-06-16&daypart=tea", Some(&crew.token)).await;
    nowhere.expect_problem(422, "invalid");
}

/// The database repeats who may: drafts are head office's, what was published is for those who work
/// by it, nobody changes a row, and looking at stock is for those who see the store.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn the_database_keeps_drafts_to_head_office_and_changes_nothing() {
    let house = house().await;
    let office = house.person(Role::Office).await;
    worked::start(&house, &office.token).await;
    draft(&house, &office, "draft", &set("Draft", "72")).await.expect(201);
    draft(&house, &office, "spring", &set("Spring", "72")).await.expect(201);
    publish(&house, &office, "spring", "2026-06-16", "To begin with").await.expect(201);
    let app = house.pg(APP).await;
    for role in network::roles() {
        let person = house.person(role.clone()).await;
        app.batch_execute("BEGIN").await.expect("begin");
        app.query("SELECT act_as($1, NULL)", &[&person.id.0]).await.expect("acting");
        let seen =
            |rows: Vec<tokio_postgres::Row>| rows.iter().map(|r| r.get(0)).collect::<Vec<String>>();
        let sets = "SELECT set_code FROM par_revisions ORDER BY set_code";
        let sets = seen(app.query(sets, &[]).await.expect("sets"));
        let published =
            seen(app.query("SELECT set_code FROM par_publications", &[]).await.expect("rows"));
        let (all, known): (&[&str], &[&str]) = match role {
            Role::Office => (&["draft", "spring"], &["spring"]),
            Role::Till(_) => (&[], &[]),
            _ => (&["spring"], &["spring"]),
        };
        assert_eq!(
            (sets, published),
            (
                all.iter().map(ToString::to_string).collect(),
                known.iter().map(ToString::to_string).collect()
            ),
            "{}",
            role.word()
        );
        let sql = "INSERT INTO par_revisions SELECT 'mine', 1, '{}', now(), $1";
        let added = app.execute(sql, &[&person.id.0]).await;
        assert_eq!(added.is_ok(), role == Role::Office, "{}", role.word());
        app.batch_execute("ROLLBACK").await.expect("rollback");
        // Of a store that is another's.
        app.batch_execute("BEGIN").await.expect("begin");
        app.query("SELECT act_as($1, NULL)", &[&person.id.0]).await.expect("acting");
        let looked = app.query("SELECT act_for_prep('weir')", &[]).await;
        assert_eq!(looked.is_ok(), role == Role::Office, "{}", role.word());
        app.batch_execute("ROLLBACK").await.expect("rollback");
    }
    // Who looks at stock writes nothing.
    let crew = house.person(role(Role::Crew, "ford")).await;
    app.batch_execute("BEGIN").await.expect("begin");
    app.query("SELECT act_as($1, NULL)", &[&crew.id.0]).await.expect("acting");
    app.query("SELECT act_for_prep('ford')", &[]).await.expect("own");
    let refused =
        app.execute("UPDATE nights SET revision = revision", &[]).await.expect_err("read only");
    assert_eq!(refused.code().map(|code| code.code()), Some("25006"));
    app.batch_execute("ROLLBACK").await.expect("rollback");
    let all = house.pg(SUPERUSER).await;
    let kept: i64 =
        all.query_one("SELECT count(*) FROM par_revisions", &[]).await.expect("rows").get(0);
    assert_eq!(kept, 2);
}
