//! Many writers at the same moment: nobody waits for ever, nobody is lost, and what is stored is
//! what its facts come to.

use std::sync::Arc;

use parings::cluster::SUPERUSER;
use parings::edge::new_id;
use parings_tests::Reply;
use parings_tests::house::Sending;
use parings_tests::network::CREATE;
use parings_tests::night::{count, delivery, feed, line, night, of_item, record, with, withdraw};
use reqwest::Method;
use serde_json::{Value, json};
use tokio::task::JoinSet;

use super::{Kitchen, moment, nights, rolled, said, words};
use crate::verify::verify;

const SATURDAY: &str = "2026-06-13";
const MONDAY: &str = "2026-06-15";

fn potatoes(kg: &str) -> Value {
    count(&[line("potato", "dry-store", kg, "kg")])
}

async fn put(kitchen: &Kitchen, at: &str, precondition: (&str, &str), body: &Value) -> Reply {
    kitchen.house.put(at, Some(&kitchen.office.token), &[precondition], body).await
}

async fn nothing_differs(kitchen: &Kitchen) {
    assert_eq!(verify(&kitchen.house).await.differences, []);
}

/// Of two amendments the later one waits for the first, and reads then what that one left: also over a
/// connection by which revisions were only read so far.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn an_amendment_that_waited_reads_what_it_waited_for() {
    let kitchen = Arc::new(Kitchen::open("2026-06-15T20:00:00Z").await);
    kitchen.count("ford", MONDAY, "79").await;
    let at = night("ford", MONDAY);
    let mut readers = JoinSet::new();
    for _ in 0..16 {
        let (kitchen, path) = (Arc::clone(&kitchen), format!("{at}/revisions"));
        readers.spawn(async move { kitchen.house.get(&path, Some(&kitchen.office.token)).await });
    }
    for reply in readers.join_all().await {
        reply.expect(200);
    }
    let mut holder = kitchen.house.pg(SUPERUSER).await;
    let held = holder.transaction().await.expect("a transaction");
    let lock = "SELECT pg_advisory_xact_lock(hashtextextended('ford', 0))";
    held.execute(lock, &[]).await.expect("the lock of the store");
    let release = async {
        // Two reach the database; the others wait without a connection.
        kitchen.house.until_waiting(2).await;
        held.rollback().await.expect("given up");
    };
    let amend = async |kg: &str| {
        let body = with(potatoes(kg), "reason", "Counted again");
        put(&kitchen, &at, ("If-Match", "\"r1\""), &body).await
    };
    let (one, two, three, four, ()) =
        tokio::join!(amend("80"), amend("81"), amend("82"), amend("83"), release);
    let mut came: Vec<u16> = [one, two, three, four].map(|reply| reply.status.as_u16()).to_vec();
    came.sort_unstable();
    assert_eq!(came, [200, 412, 412, 412]);
    nothing_differs(&kitchen).await;
}

/// A tablet that hears nothing sends again while the first is still being worked on, and reaches the
/// database by a connection that nobody wrote by before.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_resend_while_the_first_is_on_its_way_is_answered_as_the_first() {
    let kitchen = Kitchen::open("2026-06-15T20:00:00Z").await;
    let mut holder = kitchen.house.pg(SUPERUSER).await;
    let held = holder.transaction().await.expect("a transaction");
    let lock = "SELECT pg_advisory_xact_lock(hashtextextended('ford', 0))";
    held.execute(lock, &[]).await.expect("the lock of the store");
    let (body, at) = (potatoes("79"), night("ford", MONDAY));
    let release = async {
        // The first waits for the store, the second for the first.
        kitchen.house.until_waiting(2).await;
        held.rollback().await.expect("given up");
    };
    let send = || put(&kitchen, &at, CREATE, &body);
    let (first, second, ()) = tokio::join!(send(), send(), release);
    assert_eq!((first.status.as_u16(), second.status.as_u16()), (201, 201), "{}", second.text);
    assert_eq!((&first.json, first.header("etag")), (&second.json, second.header("etag")));
    nothing_differs(&kitchen).await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn of_eight_amendments_with_one_etag_exactly_one_is_taken() {
    let kitchen = Arc::new(Kitchen::open("2026-06-15T20:00:00Z").await);
    kitchen.sold("ford", MONDAY, 100).await;
    kitchen.count("ford", SATURDAY, "100").await;
    kitchen.count("ford", MONDAY, "79").await;
    let mut writers = JoinSet::new();
    for n in 1..=8 {
        let kitchen = Arc::clone(&kitchen);
        writers.spawn(async move {
            let body = with(potatoes(&format!("79.{n}")), "reason", "Counted again");
            put(&kitchen, &night("ford", MONDAY), ("If-Match", "\"r1\""), &body).await
        });
    }
    let answers = writers.join_all().await;
    let (won, lost): (Vec<_>, Vec<_>) = answers.iter().partition(|reply| reply.status == 200);
    assert_eq!((won.len(), lost.len()), (1, 7));
    for reply in lost {
        reply.expect_problem(412, "precondition-failed");
    }
    let receipt = kitchen.receipt("ford", MONDAY).await;
    assert_eq!((won[0].header("etag"), &won[0].json), ("\"r2\"", &receipt));
    let row = kitchen.rollup("store:ford", MONDAY, MONDAY).await;
    let used = of_item(&receipt, "potato")["usage"]["used"]["value"].as_str().expect("kilograms");
    assert!(rolled(&row, "potato").starts_with(&format!("{used} 1 ")), "{row:#}");
    nothing_differs(&kitchen).await;
}

/// A hundred kilograms on Saturday; a hundred sold on Monday, four deliveries of one kilogram on
/// record, and 84 counted.
async fn set(kitchen: &Kitchen, store: &str) -> Vec<Value> {
    kitchen.count(store, SATURDAY, "100").await;
    kitchen.sold(store, MONDAY, 100).await;
    let mistakes: Vec<_> = (0..4).map(|_| delivery("1", "kg")).collect();
    kitchen.record(store, MONDAY, &mistakes).await;
    kitchen.count(store, MONDAY, "84").await;
    mistakes
}

/// Writer `n` of 32, each with a part of its own at a store. Two in eight bring a kilogram, one
/// sells ten, one takes a mistaken delivery back, one amends Monday and brings a kilogram, one
/// amends Saturday if it is as it was, one counts an earlier night, one restates both stores.
async fn write(kitchen: &Kitchen, store: &str, n: usize, mistakes: &[Value]) -> Reply {
    let (house, office) = (&kitchen.house, &kitchen.office);
    let turn = n / 8;
    match n % 8 {
        0 | 1 => record(house, office, store, MONDAY, &[delivery("1", "kg")]).await,
        2 => feed(house, office, store, MONDAY, &[("1001", 10, "10.00")]).await,
        3 => withdraw(house, office, store, &mistakes[turn]).await,
        4 => {
            let body = with(potatoes(&format!("84.{turn}")), "reason", "Counted again");
            let body = with(body, "entries", json!([delivery("1", "kg")]));
            put(kitchen, &night(store, MONDAY), ("If-Match", "*"), &body).await
        }
        5 => {
            let body = with(potatoes(&format!("100.{turn}")), "reason", "Counted again");
            put(kitchen, &night(store, SATURDAY), ("If-Match", "\"r1\""), &body).await
        }
        6 => {
            let date = format!("2026-06-{:02}", 9 + turn);
            put(kitchen, &night(store, &date), CREATE, &potatoes("100")).await
        }
        _ => {
            let mut stores = vec!["ford", "weir"];
            stores.rotate_left(turn % 2);
            let body = json!({ "from": "2026-06-09", "to": MONDAY, "stores": stores,
                "reason": "To be sure" });
            let key = new_id().to_string();
            let headers = [("Idempotency-Key", key.as_str())];
            let token = Some(office.token.as_str());
            let sending = Sending { token, headers: &headers, json: Some(&body) };
            house.send(Method::POST, "/v1/restatements", sending).await
        }
    }
}

/// Of 32 writers all are taken but three: of the four who amend Saturday as it was, one is.
fn expect_taken(answers: &[Reply]) {
    let refused = answers.iter().filter(|reply| reply.status == 412).count();
    for reply in answers.iter().filter(|reply| reply.status != 412) {
        assert!(reply.status.is_success(), "{}: {} {}", reply.asked, reply.status, reply.text);
    }
    assert_eq!(
        (refused, answers.len() - refused),
        (answers.len() / 32 * 3, answers.len() / 32 * 29)
    );
}

/// Used: Saturday's count, the 8 + 4 kg brought, less Monday's last count; the four mistakes are
/// gone. Expected: (100 + 4 × 10) × 0.2.
async fn expect_figures(kitchen: &Kitchen, store: &str) {
    let receipt = kitchen.receipt(store, MONDAY).await;
    let potato = of_item(&receipt, "potato");
    let number = |pointer: &str| -> f64 { words(potato, &[pointer]).parse().expect(pointer) };
    let [opening, received, closing, used] = ["opening", "received", "closing", "used"]
        .map(|figure| number(&format!("/usage/{figure}/value")));
    assert!((100.0..100.4).contains(&opening) && (84.0..84.4).contains(&closing), "{potato:#}");
    assert!((received - 12.0).abs() < 1e-9, "{potato:#}");
    assert!((used - (opening + 12.0 - closing)).abs() < 1e-9, "{potato:#}");
    assert_eq!(potato["usage"]["expected"]["value"], "28");
    assert_eq!(receipt["count"]["revision"], 5);
    let row = kitchen.rollup(&format!("store:{store}"), "2026-06-09", MONDAY).await;
    // From Tuesday 9 June to Monday 15, closed on Sunday: all six counted.
    assert_eq!(nights(&row).split(' ').take(5).collect::<Vec<_>>(), ["6", "6", "0", "0", "1"]);
    assert!(said(potato).starts_with("compared 2026-06-13 1 "), "{potato:#}");
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn thirty_two_writers_of_one_store_all_end() {
    let kitchen = Arc::new(Kitchen::open("2026-06-15T20:00:00Z").await);
    let mistakes = Arc::new(set(&kitchen, "ford").await);
    set(&kitchen, "weir").await;
    let mut writers = JoinSet::new();
    for n in 0..32 {
        let (kitchen, mistakes) = (Arc::clone(&kitchen), Arc::clone(&mistakes));
        writers.spawn(async move { write(&kitchen, "ford", n, &mistakes).await });
    }
    expect_taken(&writers.join_all().await);
    expect_figures(&kitchen, "ford").await;
    nothing_differs(&kitchen).await;
}

/// Half of them begin with ford and half with weir.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn thirty_two_writers_of_two_stores_in_both_orders_all_end() {
    let kitchen = Arc::new(Kitchen::open("2026-06-15T20:00:00Z").await);
    let stores = ["ford", "weir"];
    let mistakes = Arc::new([set(&kitchen, stores[0]).await, set(&kitchen, stores[1]).await]);
    let mut writers = JoinSet::new();
    for n in 0..32 {
        let (kitchen, mistakes) = (Arc::clone(&kitchen), Arc::clone(&mistakes));
        writers.spawn(async move {
            let order = if n % 2 == n / 8 % 2 { [0, 1] } else { [1, 0] };
            let mut answers = Vec::new();
            for store in order {
                answers.push(write(&kitchen, stores[store], n, &mistakes[store]).await);
            }
            answers
        });
    }
    let answers: Vec<Reply> = writers.join_all().await.into_iter().flatten().collect();
    expect_taken(&answers);
    for store in stores {
        expect_figures(&kitchen, store).await;
    }
    nothing_differs(&kitchen).await;
}

/// Head office's new price is being recorded, for a moment ago, while a night is tallied for the
/// first time: the night is pinned to what it saw, and stays what it was once the price is there.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_price_on_its_way_is_not_known_to_a_night_tallied_meanwhile() {
    let kitchen = Kitchen::open("2026-06-15T20:00:00Z").await;
    kitchen.count("ford", SATURDAY, "100").await;
    // What a request of head office does, up to its end.
    let mut office = kitchen.house.pg(SUPERUSER).await;
    let recording = office.transaction().await.expect("a transaction");
    let lock = "SELECT pg_advisory_xact_lock($1)";
    recording.execute(lock, &[&parings::db::reference::RECORDING]).await.expect("the lock");
    let sql = "INSERT INTO reference_versions (kind, code, valid_from, recorded_at, body)
        VALUES ('prices', 'potato', '2026-06-01', '2026-06-15T20:00:01Z', $1::text::jsonb)";
    let double = super::price("2.00").to_string();
    assert_eq!(recording.execute(sql, &[&double]).await.expect("a price"), 1);

    kitchen.house.clock.set(moment("2026-06-15T20:00:02Z"));
    kitchen.count("ford", MONDAY, "79").await;
    let before = kitchen.receipt("ford", MONDAY).await;
    assert_eq!(said(of_item(&before, "potato")), "pending 2026-06-13 1 21 - - 21.00");
    recording.commit().await.expect("recorded");
    nothing_differs(&kitchen).await;
    kitchen.sold("ford", MONDAY, 100).await;
    // 21 used against 20, still at 1.00.
    assert_eq!(kitchen.span("ford", MONDAY, "potato").await, "compared 2026-06-13 1 21 20 1 21.00");
    nothing_differs(&kitchen).await;
}
