//! Several writers to one store at the same moment.

use std::sync::Arc;

use parings_core::access::Role;
use parings_tests::house::{House, Person};
use parings_tests::night::{
    count, delivery, feed, line, night, of_item, receipt, record, role, staged, submit, with,
};
use parings_tests::{Reply, house, network};
use serde_json::{Value, json};
use tokio::task::JoinSet;

const DATE: &str = "2026-06-15";
const CREATE: (&str, &str) = network::CREATE;

async fn open() -> (Arc<House>, Person) {
    let house = house().await;
    let office = house.person(Role::Office).await;
    network::start(&house, &office.token).await;
    let manager = house.person(role(Role::Manager, "ford")).await;
    (Arc::new(house), manager)
}

fn body(bags: &str) -> Value {
    count(&[
        line("potato", "dry-store", bags, "bag"),
        staged("potato", "cold-room", "trim", "9", "kg"),
    ])
}

async fn put(house: &House, by: &Person, header: (&str, &str), body: &Value) -> Reply {
    house.put(&night("ford", DATE), Some(&by.token), &[header], body).await
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn of_two_managers_with_one_etag_exactly_one_wins() {
    let (house, one) = open().await;
    let other = house.person(role(Role::Manager, "ford")).await;
    let (first, second) = (body("4"), body("5"));
    let created =
        tokio::join!(put(&house, &one, CREATE, &first), put(&house, &other, CREATE, &second));
    let mut statuses = [created.0.status.as_u16(), created.1.status.as_u16()];
    statuses.sort_unstable();
    assert_eq!(statuses, [201, 412]);
    for round in 1..6 {
        let tag = format!("\"r{round}\"");
        let [mine, theirs] =
            ["2", "3"].map(|bags| with(body(bags), "reason", format!("Round {round}")));
        let answers = tokio::join!(
            put(&house, &one, ("If-Match", &tag), &mine),
            put(&house, &other, ("If-Match", &tag), &theirs)
        );
        let (won, lost) = match answers {
            (a, b) if a.status == 200 => (a, b),
            (a, b) => (b, a),
        };
        assert_eq!(won.expect(200).header("etag"), format!("\"r{}\"", round + 1));
        lost.expect_problem(412, "precondition-failed");
        let now = receipt(&house, &one, &night("ford", DATE)).await;
        assert_eq!(now, won.json, "round {round}");
    }
}

/// The tablet that lost an answer may ask again before the first request is through.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn one_submission_sent_four_times_at_once_is_saved_once() {
    let (house, manager) = open().await;
    let sent = with(body("4"), "entries", json!([delivery("2", "bag")]));
    let send = || put(&house, &manager, CREATE, &sent);
    let (a, b, c, d) = tokio::join!(send(), send(), send(), send());
    for reply in [&a, &b, &c, &d] {
        assert_eq!(reply.expect(201).json, a.json);
    }
    let path = format!("{}/revisions", night("ford", DATE));
    let revisions = house.get(&path, Some(&manager.token)).await;
    assert_eq!(revisions.expect(200).json.as_array().map(Vec::len), Some(1));
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn sixteen_writers_to_one_store_all_count() {
    let (house, manager) = open().await;
    let crew = house.person(role(Role::Crew, "ford")).await;
    let till = house.person(role(Role::Till, "ford")).await;
    let saturday = night("ford", "2026-06-13");
    submit(&house, &manager, &saturday, &body("4")).await;

    let mut writers = JoinSet::new();
    for n in 0..16 {
        let (house, manager) = (Arc::clone(&house), manager.clone());
        let (crew, till) = (crew.clone(), till.clone());
        writers.spawn(async move {
            match n % 4 {
                0 | 1 => {
                    let entries = [delivery("1", "kg"), delivery("1", "kg")];
                    record(&house, &crew, "ford", DATE, &entries).await
                }
                2 => feed(&house, &till, "ford", DATE, &[("none", 1, "1.00")]).await,
                _ => {
                    let entries = json!([delivery("1", "kg")]);
                    let again = with(with(body("4"), "entries", entries), "reason", "Again");
                    let header = if n == 3 { CREATE } else { ("If-Match", "*") };
                    put(&house, &manager, header, &again).await
                }
            }
        });
    }
    let mut counts = 0;
    while let Some(reply) = writers.join_next().await {
        let reply = reply.expect("a writer");
        // Of the four counts, those that came before the first are told so.
        match reply.status.as_u16() {
            412 => assert!(reply.asked.starts_with("PUT"), "{}", reply.asked),
            status => {
                assert!([200, 201].contains(&status), "{}: {}", reply.asked, reply.text);
                counts += u32::from(reply.asked.starts_with("PUT"));
            }
        }
    }
    assert!((1..=4).contains(&counts), "{counts} counts");
    let now = receipt(&house, &manager, &night("ford", DATE)).await;
    assert_eq!(now["unmapped"], json!([{ "code": "none", "units": 4 }]));
    assert_eq!(now["count"]["revision"], counts);
    let usage = &of_item(&now, "potato")["usage"];
    assert_eq!(usage["received"]["value"], (16 + counts).to_string());
}

/// Crew's tablet sends an entry, and the manager's has it in the night: one of them is told that
/// the id is taken, and neither waits for the other for ever.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn an_entry_sent_two_ways_at_once_counts_once() {
    let (house, manager) = open().await;
    let crew = house.person(role(Role::Crew, "ford")).await;
    submit(&house, &manager, &night("ford", DATE), &body("4")).await;
    for round in 1..9 {
        let entry = delivery("1", "kg");
        let night = with(with(body("4"), "entries", json!([entry])), "reason", "Again");
        let (posted, submitted) = tokio::join!(
            record(&house, &crew, "ford", DATE, std::slice::from_ref(&entry)),
            put(&house, &manager, ("If-Match", "*"), &night)
        );
        match posted.status.as_u16() {
            201 => submitted.expect_problem(422, "id-taken"),
            _ => {
                submitted.expect(200);
                posted.expect_problem(422, "id-taken")
            }
        };
        let list = format!("/v1/stores/ford/entries?business_date={DATE}&limit=100");
        let listed = house.get(&list, Some(&manager.token)).await;
        let entries = listed.expect(200).json["items"].as_array().map(Vec::len);
        assert_eq!(entries, Some(round), "round {round}");
    }
}
