//! Entries over HTTP: recorded by several people, one by one and in lists, withdrawn by others,
//! sent again.

use parings::cluster::SUPERUSER;
use parings::edge::new_id;
use parings_core::access::Role;
use parings_tests::house::{House, Person, Sending};
use parings_tests::{Reply, house, network};
use reqwest::Method;
use serde_json::{Value, json};
use tokio_postgres::error::SqlState;

const ENTRIES: &str = "/v1/stores/ford/entries";
const TODAY: &str = "2026-06-15";

/// A house with a network, and its head office.
async fn open() -> (House, Person) {
    let house = house().await;
    let office = house.person(Role::Office).await;
    network::start(&house, &office.token).await;
    let sauce = json!({
        "title": "Sauce", "group": "food", "base": "volume", "rhythm": { "every": "night" },
        "packs": [{ "code": "tub", "title": "Tub", "holds": { "value": "2", "unit": "l" } }],
        "shelves": [{ "place": "cold-room", "unit": "tub" }],
    });
    network::put(&house, &office.token, "items", "sauce", sauce).await;
    (house, office)
}

fn role<T: std::str::FromStr<Err: std::fmt::Debug>>(make: fn(Vec<T>) -> Role, at: &str) -> Role {
    make(vec![at.parse().expect(at)])
}

/// Waste of an item, with an id of its own.
fn waste(item: &str, reason: &str, value: &str, unit: &str) -> Value {
    json!({ "id": new_id(), "kind": "waste", "item": item, "reason": reason,
        "quantity": { "value": value, "unit": unit } })
}

fn night(date: &str, entries: &[Value]) -> Value {
    json!({ "business_date": date, "entries": entries })
}

async fn post(house: &House, by: &Person, path: &str, key: &str, body: &Value) -> Reply {
    let headers = [("Idempotency-Key", key)];
    let send = Sending { token: Some(&by.token), headers: &headers, json: Some(body) };
    house.send(Method::POST, path, send).await
}

/// Sends a body under a new key.
async fn add(house: &House, by: &Person, body: &Value) -> Reply {
    post(house, by, ENTRIES, &new_id().to_string(), body).await
}

async fn withdraw(house: &House, by: &Person, entry: &Value, key: &str, reason: &str) -> Reply {
    let path = format!("{ENTRIES}/{}/withdraw", entry["id"].as_str().expect("an id"));
    post(house, by, &path, key, &json!({ "reason": reason })).await
}

async fn list(house: &House, by: &Person) -> Reply {
    house.get(&format!("{ENTRIES}?business_date={TODAY}"), Some(&by.token)).await
}

fn items(reply: &Reply) -> &Vec<Value> {
    reply.expect(200).json["items"].as_array().expect("items")
}

/// One number of the database.
async fn number(house: &House, sql: &str) -> i64 {
    house.pg(SUPERUSER).await.query_one(sql, &[]).await.expect(sql).get(0)
}

/// Thousandths of the base unit of potatoes thrown away today, as tallied.
async fn potatoes_wasted(house: &House) -> i64 {
    let sql = "SELECT coalesce(sum(wasted), 0)::bigint FROM item_days
        WHERE business_date = '2026-06-15' AND store_id = 'ford' AND item_id = 'potato'";
    number(house, sql).await
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn several_people_record_a_night_one_by_one_and_in_lists() {
    let (house, _) = open().await;
    let crew = house.person(role(Role::Crew, "ford")).await;
    let manager = house.person(role(Role::Manager, "ford")).await;
    let one = waste("potato", "dropped", "2", "kg");
    add(&house, &crew, &night(TODAY, std::slice::from_ref(&one))).await.expect(201);
    house.clock.set(house.clock.now() + chrono::TimeDelta::minutes(5));
    let others = [
        json!({ "id": new_id(), "kind": "delivery", "item": "potato", "lot": "L 42",
            "quantity": { "value": 3, "unit": "bag" } }),
        json!({ "id": new_id(), "kind": "transfer_out", "item": "potato", "to": "weir",
            "quantity": { "value": "0.5", "unit": "bag" } }),
        json!({ "id": new_id(), "kind": "transfer_in", "item": "sauce", "from": "weir",
            "quantity": { "value": "1", "unit": "tub" } }),
        json!({ "id": new_id(), "kind": "batch", "item": "potato", "labour_minutes": 30,
            "put_in": { "value": "22.68", "unit": "kg" },
            "steps": [{ "stage": "trim", "out": { "value": "20.1", "unit": "kg" } }] }),
        json!({ "id": new_id(), "kind": "stock_out", "item": "sauce",
            "from": "2026-06-15T17:00:00Z", "to": "2026-06-15T18:30:00Z" }),
        json!({ "id": new_id(), "kind": "sample", "product": "fries", "size": "one",
            "item": "potato", "weights": [{ "value": "206", "unit": "g" }] }),
    ];
    let added = add(&house, &manager, &night(TODAY, &others)).await;
    let added = added.expect(201).json["entries"].as_array().expect("entries").clone();
    assert_eq!(added.len(), others.len());
    // 3 × 22.68 kg, half of that bag, 2 l, and what went into the batch: recomputed by hand.
    let expected = [
        Some(("68.04", "kg")),
        Some(("11.34", "kg")),
        Some(("2", "l")),
        Some(("22.68", "kg")),
        None,
        None,
    ];
    for ((entry, sent), expected) in added.iter().zip(&others).zip(expected) {
        let amount = expected.map(|(value, unit)| json!({ "value": value, "unit": unit }));
        assert_eq!(entry["amount"], amount.unwrap_or_default(), "{sent}");
        assert_eq!(entry["item"], sent["item"]);
        assert_eq!(entry["entry"]["kind"], sent["kind"]);
    }
    // As typed, and a number travels as text.
    assert_eq!(added[0]["entry"]["quantity"], json!({ "value": "3", "unit": "bag" }));

    let listed = list(&house, &manager).await;
    let listed = items(&listed);
    assert_eq!(listed.len(), 7);
    assert_eq!(listed[0]["entry"], one);
    assert_eq!(listed[0]["recorded_by"]["id"], json!(crew.id));
    assert_eq!(listed[0]["recorded_by"]["name"], "Somebody");
    assert_eq!(listed[6]["recorded_by"]["id"], json!(manager.id));
    assert_eq!(potatoes_wasted(&house).await, 2_000_000);
}

/// NIST SP 811, appendix B: the avoirdupois pound is 453.592 37 g, the ounce 28.349 523 125 g;
/// NIST Handbook 44, appendix C: the cup is 236.588 236 5 ml. From memory.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn waste_is_taken_in_any_unit_that_the_item_knows() {
    let (house, _) = open().await;
    let crew = house.person(role(Role::Crew, "ford")).await;
    let entries = [
        waste("potato", "expired", "1.5", "lb"),
        waste("potato", "expired", "12", "oz"),
        waste("potato", "expired", "0.25", "bag"),
        waste("sauce", "expired", "2", "cup"),
        // Trimmed potatoes at a standard of 0.90: 900 g were 1 kg.
        json!({ "id": new_id(), "kind": "waste", "item": "potato", "stage": "trim",
            "reason": "miscooked", "quantity": { "value": "900", "unit": "g" } }),
        // In a pan of 1.2 kg.
        json!({ "id": new_id(), "kind": "waste", "item": "potato", "pan": "deep",
            "reason": "miscooked", "quantity": { "value": "3.2", "unit": "kg" } }),
    ];
    let reply = add(&house, &crew, &night(TODAY, &entries)).await;
    let amounts: Vec<_> = reply.expect(201).json["entries"]
        .as_array()
        .expect("entries")
        .iter()
        .map(|e| format!("{} {}", e["amount"]["value"], e["amount"]["unit"]).replace('"', ""))
        .collect();
    let expected = ["0.68 kg", "0.34 kg", "5.67 kg", "0.473 l", "1 kg", "2 kg"];
    assert_eq!(amounts, expected);
    // The sum is rounded once: 680.388555 + 340.1942775 + 5670 + 1000 + 2000 g.
    assert_eq!(potatoes_wasted(&house).await, 9_690_583);
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn every_fault_of_a_list_is_told_and_nothing_of_it_is_kept() {
    let (house, _) = open().await;
    let crew = house.person(role(Role::Crew, "ford")).await;
    let good = waste("potato", "dropped", "1", "kg");
    let mut twin = waste("potato", "dropped", "2", "kg");
    twin["id"] = good["id"].clone();
    let entries = [
        good,
        waste("potato", "normal-trim", "1", "kg"),
        waste("turnip", "dropped", "1", "kg"),
        waste("potato", "dropped", "1", "l"),
        waste("potato", "dropped", "0", "kg"),
        twin,
    ];
    let refused = add(&house, &crew, &night(TODAY, &entries)).await;
    refused.expect_problem(422, "invalid");
    let pointers = [
        "/entries/1/reason",
        "/entries/2/quantity",
        "/entries/3/quantity",
        "/entries/4/quantity",
        "/entries/5/id",
    ];
    assert_eq!(refused.pointers(), pointers);
    let trim = refused.json["errors"][0]["detail"].as_str().expect("a sentence");
    assert!(trim.contains("standard yield"), "{trim}");

    // What is no code, number or text is found before the catalogue is asked.
    let mut odd = waste("Potato", "dropped", "-1", "a bag");
    odd["pan"] = json!("--");
    let lot = json!({ "id": new_id(), "kind": "delivery", "item": "potato", "lot": "a\u{7}b",
        "quantity": { "value": "1", "unit": "kg" } });
    let late = json!({ "id": new_id(), "kind": "stock_out", "item": "potato", "from": "noon" });
    let refused = add(&house, &crew, &night(TODAY, &[odd, lot, late])).await;
    refused.expect_problem(422, "invalid");
    let mut pointers = refused.pointers();
    pointers.sort_unstable();
    let expected = [
        "/entries/0/item",
        "/entries/0/pan",
        "/entries/0/quantity/unit",
        "/entries/0/quantity/value",
        "/entries/1/lot",
        "/entries/2/from",
    ];
    assert_eq!(pointers, expected);

    let mut unknown = waste("potato", "dropped", "1", "kg");
    unknown["colour"] = json!("green");
    let refused = add(&house, &crew, &night(TODAY, &[unknown])).await;
    assert_eq!(refused.expect_problem(422, "invalid").pointers(), ["/entries/0"]);
    assert_eq!(add(&house, &crew, &night(TODAY, &[])).await.expect(422).pointers(), ["/entries"]);
    let many: Vec<_> = (0..501).map(|_| waste("potato", "dropped", "1", "kg")).collect();
    assert_eq!(add(&house, &crew, &night(TODAY, &many)).await.expect(422).pointers(), ["/entries"]);
    assert_eq!(number(&house, "SELECT count(*) FROM entry_ids").await, 0);
    assert_eq!(number(&house, "SELECT count(*) FROM entries").await, 0);
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_request_sent_again_is_answered_as_the_first_time() {
    let (house, _) = open().await;
    let crew = house.person(role(Role::Crew, "ford")).await;
    let other = house.person(role(Role::Crew, "ford")).await;
    let (key, entry) = (new_id().to_string(), waste("potato", "dropped", "1", "kg"));
    let body = night(TODAY, std::slice::from_ref(&entry));
    let first = post(&house, &crew, ENTRIES, &key, &body).await;
    house.clock.set(house.clock.now() + chrono::TimeDelta::minutes(1));
    let again = post(&house, &crew, ENTRIES, &key, &body).await;
    assert_eq!(first.expect(201).json, again.expect(201).json);
    assert_eq!(number(&house, "SELECT count(*) FROM entries").await, 1);
    assert_eq!(potatoes_wasted(&house).await, 1_000_000);

    let changed = night(TODAY, &[waste("potato", "dropped", "5", "kg")]);
    post(&house, &crew, ENTRIES, &key, &changed).await.expect_problem(422, "id-taken");
    post(&house, &other, ENTRIES, &key, &changed).await.expect_problem(422, "id-taken");
    // The entry's own id is taken too, whatever the key; the others of the list are not kept.
    let mixed = night(TODAY, &[waste("potato", "dropped", "7", "kg"), entry.clone()]);
    let taken = add(&house, &other, &mixed).await;
    let said = taken.expect_problem(422, "id-taken").json["detail"].to_string();
    assert!(said.contains(entry["id"].as_str().expect("an id")), "{said}");
    assert_eq!(number(&house, "SELECT count(*) FROM entries").await, 1);
    assert_eq!(number(&house, "SELECT count(*) FROM entry_ids").await, 1);
    assert_eq!(potatoes_wasted(&house).await, 1_000_000);
    post(&house, &crew, ENTRIES, "no-uuid", &body).await.expect_problem(400, "unreadable");
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn crew_manager_and_office_record_and_nobody_else() {
    let (house, _) = open().await;
    for (role, status) in [
        (role(Role::Crew, "ford"), 201),
        (role(Role::Manager, "ford"), 201),
        (Role::Office, 201),
        (role(Role::Coach, "upper"), 403),
        (role(Role::Owner, "brook"), 403),
        (role(Role::Till, "ford"), 403),
        (role(Role::Crew, "weir"), 404),
        (role(Role::Manager, "weir"), 404),
        (role(Role::Coach, "lower"), 404),
        (role(Role::Owner, "hill"), 404),
        (role(Role::Till, "weir"), 404),
    ] {
        let (what, reads) = (format!("{role:?}"), !matches!(role, Role::Till(_)));
        let person = house.person(role).await;
        let body = night(TODAY, &[waste("potato", "dropped", "1", "kg")]);
        let reply = add(&house, &person, &body).await;
        assert_eq!(reply.status, status, "{what}: {}", reply.text);
        let listed = list(&house, &person).await;
        let expected = if status == 404 {
            404
        } else if reads {
            200
        } else {
            403
        };
        assert_eq!(listed.status, expected, "{what}: {}", listed.text);
    }
    let nowhere = "/v1/stores/nowhere/entries";
    let office = house.person(Role::Office).await;
    let body = night(TODAY, &[waste("potato", "dropped", "1", "kg")]);
    let key = new_id().to_string();
    post(&house, &office, nowhere, &key, &body).await.expect_problem(404, "not-found");
    house.post(ENTRIES, None, &body).await.expect_problem(401, "unauthenticated");
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn an_entry_is_withdrawn_once_and_stays_on_record() {
    let (house, office) = open().await;
    let crew = house.person(role(Role::Crew, "ford")).await;
    let other = house.person(role(Role::Crew, "ford")).await;
    let manager = house.person(role(Role::Manager, "ford")).await;
    let coach = house.person(role(Role::Coach, "upper")).await;
    let [one, two] = ["1", "2"].map(|value| waste("potato", "dropped", value, "kg"));
    add(&house, &crew, &night(TODAY, &[one.clone(), two.clone()])).await.expect(201);
    assert_eq!(potatoes_wasted(&house).await, 3_000_000);

    let key = new_id().to_string();
    withdraw(&house, &other, &one, &key, "typed twice").await.expect_problem(403, "forbidden");
    withdraw(&house, &coach, &one, &key, "typed twice").await.expect_problem(403, "forbidden");
    let stranger = house.person(role(Role::Manager, "weir")).await;
    withdraw(&house, &stranger, &one, &key, "mine").await.expect_problem(404, "not-found");
    let nothing = json!({ "id": new_id() });
    withdraw(&house, &manager, &nothing, &key, "gone").await.expect_problem(404, "not-found");
    let blank = withdraw(&house, &manager, &one, &key, "  ").await;
    assert_eq!(blank.expect_problem(422, "invalid").pointers(), ["/reason"]);

    let first = withdraw(&house, &manager, &one, &key, "typed twice").await;
    let withdrawn = &first.expect(200).json["withdrawn"];
    assert_eq!(withdrawn["reason"], "typed twice");
    assert_eq!(withdrawn["by"]["id"], json!(manager.id));
    assert_eq!(potatoes_wasted(&house).await, 2_000_000);
    let again = withdraw(&house, &manager, &one, &key, "typed twice").await;
    assert_eq!(again.expect(200).json, first.json);
    let key = new_id().to_string();
    withdraw(&house, &crew, &one, &key, "once more").await.expect_problem(409, "conflict");
    withdraw(&house, &crew, &two, &key, "not mine after all").await.expect(200);
    assert_eq!(potatoes_wasted(&house).await, 0);

    // Who did it is told to those who work in the store, and to nobody above.
    for (person, named) in [(&crew, true), (&manager, true), (&coach, false), (&office, false)] {
        let listed = list(&house, person).await;
        let listed: Vec<_> = items(&listed).iter().filter(|e| e["entry"] == one).collect();
        assert_eq!(listed.len(), 1);
        assert_eq!(listed[0]["withdrawn"]["reason"], "typed twice");
        assert_eq!(listed[0]["withdrawn"].get("by").is_some(), named);
        assert_eq!(listed[0].get("recorded_by").is_some(), named);
    }
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn the_date_of_a_request_counts_and_the_clock_checks_it() {
    let (house, _) = open().await;
    let crew = house.person(role(Role::Crew, "ford")).await;
    let one = || [waste("potato", "dropped", "1", "kg")];
    // 00:30 on Tuesday in Berlin is still Monday's business, so Tuesday has not begun.
    let at = "2026-06-15T22:30:00Z".parse().expect("a moment");
    house.clock.set(at);
    for (date, status) in [
        ("2026-06-16", 422),
        (TODAY, 201),
        ("2026-06-14", 201),
        ("2026-06-01", 201),
        ("2025-05-10", 404),
    ] {
        let reply = add(&house, &crew, &night(date, &one())).await;
        assert_eq!(reply.status, status, "{date}: {}", reply.text);
    }
    let tomorrow = add(&house, &crew, &night("2026-06-16", &one())).await;
    assert_eq!(tomorrow.pointers(), ["/business_date"]);
    // In force since January 2026, and 400 days pass: 1 June 2026 is 401 days before 7 July 2027.
    house.clock.set("2027-07-07T12:00:00Z".parse().expect("a moment"));
    let crew = house.person(role(Role::Crew, "ford")).await;
    let late = add(&house, &crew, &night("2026-06-01", &one())).await;
    assert_eq!(late.expect_problem(422, "invalid").pointers(), ["/business_date"]);
    // The first of the 400 days is open, and locked long since.
    let locked = add(&house, &crew, &night("2026-06-02", &one())).await;
    locked.expect_problem(409, "conflict");
}

/// Several tablets send at one moment: each sees its own, the tally sees all.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn entries_that_come_at_once_all_count() {
    let (house, _) = open().await;
    let crew = house.person(role(Role::Crew, "ford")).await;
    let manager = house.person(role(Role::Manager, "ford")).await;
    for _ in 0..5 {
        let [a, b, c, d] = ["1", "2", "3", "4"]
            .map(|value| night(TODAY, &[waste("potato", "dropped", value, "kg")]));
        let (a, b, c, d) = tokio::join!(
            add(&house, &crew, &a),
            add(&house, &manager, &b),
            add(&house, &crew, &c),
            add(&house, &manager, &d),
        );
        for reply in [a, b, c, d] {
            reply.expect(201);
        }
    }
    assert_eq!(potatoes_wasted(&house).await, 50_000_000);
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_long_night_comes_in_pages() {
    let (house, _) = open().await;
    let crew = house.person(role(Role::Crew, "ford")).await;
    let entries: Vec<_> =
        (1..=7).map(|n| waste("potato", "dropped", &n.to_string(), "g")).collect();
    for list in entries.chunks(3) {
        add(&house, &crew, &night(TODAY, list)).await.expect(201);
    }
    let (mut seen, mut after) = (Vec::new(), String::new());
    loop {
        let path = format!("{ENTRIES}?business_date={TODAY}&limit=3{after}");
        let page = house.get(&path, Some(&crew.token)).await;
        seen.extend(items(&page).iter().map(|e| e["entry"]["id"].to_string()));
        let Some(next) = page.json["next"].as_str() else { break };
        after = format!("&after={next}");
    }
    let mut expected: Vec<_> = entries.iter().map(|e| e["id"].to_string()).collect();
    seen.sort_unstable();
    expected.sort_unstable();
    assert_eq!(seen, expected);
}

/// What the database says to somebody who gets past the server.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn the_database_keeps_the_entries_of_a_store_from_others() {
    let (house, _) = open().await;
    let crew = house.person(role(Role::Crew, "ford")).await;
    let entry = waste("potato", "dropped", "1", "kg");
    add(&house, &crew, &night(TODAY, std::slice::from_ref(&entry))).await.expect(201);
    let manager = house.person(role(Role::Manager, "ford")).await;
    let key = new_id().to_string();
    withdraw(&house, &manager, &entry, &key, "typed twice").await.expect(200);

    let stranger = house.person(role(Role::Manager, "weir")).await;
    let app = house.pg("parings_app").await;
    app.batch_execute("BEGIN").await.expect("begin");
    app.query("SELECT act_as($1)", &[&stranger.id.0]).await.expect("acting");
    for table in ["entries", "entry_ids", "entry_withdrawals"] {
        let seen = app.query(&format!("SELECT * FROM {table}"), &[]).await.expect("rows");
        assert!(seen.is_empty(), "{table}");
    }
    let place = "'2026-06-15', 'ford', 'upper', 'valley', 'brook'";
    for add in [
        format!(
            "INSERT INTO entries (business_date, store_id, district_id, region_id, owner_id, id,
               kind, body, recorded_by, recorded_at, write_id)
             VALUES ({place}, $1, 'waste', '{{}}', $1, now(), $1)"
        ),
        "INSERT INTO entry_ids (id, store_id, business_date) VALUES ($1, 'ford', '2026-06-15')"
            .to_owned(),
        format!(
            "INSERT INTO entry_withdrawals (business_date, store_id, district_id, region_id,
               owner_id, entry_id, reason, withdrawn_by, withdrawn_at)
             VALUES ({place}, $1, 'mine', $1, now())"
        ),
    ] {
        app.batch_execute("SAVEPOINT before").await.expect("a savepoint");
        let refused = app.execute(&add, &[&new_id()]).await.expect_err(&add);
        assert_eq!(refused.code(), Some(&SqlState::INSUFFICIENT_PRIVILEGE), "{add}");
        app.batch_execute("ROLLBACK TO before").await.expect("a rollback");
    }
    // Names are for those who work in stores: head office asks for people, coaches not at all.
    for (who, named) in [(Role::Office, 0), (role(Role::Coach, "upper"), 0)] {
        let person = house.person(who).await;
        app.query("SELECT act_as($1)", &[&person.id.0]).await.expect("acting");
        let names = app.query("SELECT * FROM told_of(ARRAY[$1::uuid])", &[&crew.id.0]).await;
        assert_eq!(names.expect("an answer").len(), named);
    }
    for statement in ["UPDATE entries SET kind = 'x'", "DELETE FROM entries"] {
        app.batch_execute("SAVEPOINT before").await.expect("a savepoint");
        let refused = app.execute(statement, &[]).await.expect_err(statement);
        assert_eq!(refused.code(), Some(&SqlState::INSUFFICIENT_PRIVILEGE), "{statement}");
        app.batch_execute("ROLLBACK TO before").await.expect("a rollback");
    }
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn however_its_path_is_spelled_a_write_is_the_same() {
    let (house, _) = open().await;
    let crew = house.person(role(Role::Crew, "ford")).await;
    let one = waste("potato", "dropped", "2", "kg");
    add(&house, &crew, &night(TODAY, std::slice::from_ref(&one))).await.expect(201);
    let (id, key) = (one["id"].as_str().expect("an id"), new_id());
    let reason = json!({ "reason": "typed twice" });
    let mut answers = Vec::new();
    for path in [
        format!("/v1/stores/%66ord/entries/{}/withdraw", id.to_uppercase()),
        format!("/v1/stores/ford/entries/{}/withdraw", id.replace('-', "")),
        format!("/v1/stores/ford/entries/{id}/withdraw"),
    ] {
        let reply = post(&house, &crew, &path, &key.to_string(), &reason).await;
        answers.push(reply.expect(200).json.clone());
    }
    assert!(answers.iter().all(|answer| *answer == answers[0]), "{answers:#?}");
    let kept = "SELECT operation FROM writes WHERE id = $1";
    let kept = house.pg(SUPERUSER).await.query_one(kept, &[&key]).await.expect("the write");
    let expected = format!("POST /v1/stores/ford/entries/{id}/withdraw");
    assert_eq!(kept.get::<_, String>(0), expected);
}
