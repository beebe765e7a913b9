//! A stored tally equals its recomputation from facts.

use parings::app::night::verify::{self, Report};
use parings::cluster::SUPERUSER;
use parings::cluster::roles::READ;
use parings_core::ids::ItemId;
use parings_core::quantity::Tallied;
use parings_core::tally::{DaypartKey, Night};
use parings_tests::house::House;
use parings_tests::tallies::alter;
use serde_json::json;

use crate::trace::scene::{BETWEEN, DATE, FIRST, Scene, count, entry, sale, typed, waste};

pub async fn verify(house: &House) -> Report {
    let mut done = Vec::new();
    let url = house.database.url(READ);
    let report = verify::run(&url, |step| done.push((step.done, step.of))).await;
    let report = report.expect("a comparison");
    let all: Vec<_> = (1..=report.stores).map(|n| (n, report.stores)).collect();
    assert_eq!(done, all);
    report
}

/// Two nights with all that can happen to facts after they were tallied.
pub async fn busy() -> Scene {
    let scene = Scene::play().await;
    scene.submit(BETWEEN, None, count("120.0", "3.5")).await.expect(201);
    scene.submit(FIRST, Some("\"r1\""), count("147.5", "0.5")).await.expect(200);
    let late = waste("dropped", Some("trim"), "0.7");
    let taken_back = late["id"].as_str().expect("an id").to_owned();
    scene.record(FIRST, &[waste("recall", None, "1"), late]).await.expect(201);
    scene.withdraw(&taken_back).await.expect(200);
    let out = json!({ "quantity": typed("3", "lb"), "to": "weir" });
    scene.record(BETWEEN, &[entry("transfer_out", out)]).await.expect(201);
    let out_of_stock = json!({ "from": "2026-06-16T10:00:00Z", "to": "2026-06-16T11:30:00Z" });
    scene.record(BETWEEN, &[entry("stock_out", out_of_stock)]).await.expect(201);
    let again = [sale("1", "c100", 91, "409.50"), sale("8", "none", 2, "3.00")];
    scene.feed(BETWEEN, "t1-7", &again).await.expect(201);
    let tickets = json!({ "batch_id": "t1-8", "business_date": BETWEEN, "tickets": [
        { "id": "a", "placed": "2026-06-16T10:00:00Z", "handed_off": "2026-06-16T10:04:00Z" },
        { "id": "b", "placed": "2026-06-16T10:05:00Z" },
    ] });
    let token = Some(scene.till.token.as_str());
    scene.house.post("/v1/stores/ford/till-batches", token, &tickets).await.expect(201);
    scene
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn invariant_2_a_stored_tally_equals_its_recomputation() {
    let scene = busy().await;
    let report = verify(&scene.house).await;
    assert_eq!(report.differences, []);
    assert_eq!((report.stores, report.nights), (1, 3));
    assert!(report.rows >= 10, "{report:?}");
}

/// Prices, recipes and opening days corrected for nights that are tallied change nothing until
/// somebody writes there; then the pin of each night decides.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_tally_keeps_to_the_reference_data_it_was_pinned_to() {
    let scene = busy().await;
    let token = Some(scene.office.token.as_str());
    let later = scene.house.clock.now() + chrono::TimeDelta::hours(1);
    scene.house.clock.set(later);
    let mut closed = parings_tests::network::store("Ford", "upper", "brook");
    closed["closed"] = json!([BETWEEN]);
    for (path, document) in [
        ("prices/russet", json!({ "price": "1.10", "per": typed("1", "kg") })),
        ("stores/ford", closed),
    ] {
        let mut body = parings_tests::network::change(FIRST, document);
        body["reason"] = json!("put right");
        let path = format!("/v1/reference/{path}");
        scene.house.put(&path, token, &[("If-Match", "*")], &body).await.expect(200);
    }
    assert_eq!(verify(&scene.house).await.differences, []);
    scene.record(FIRST, &[waste("dropped", None, "0.1")]).await.expect(201);
    scene.submit(BETWEEN, Some("\"r1\""), count("119.0", "3.5")).await.expect(200);
    // A night first tallied now knows the new price; the span to it from the old one does too.
    scene.house.clock.set(later + chrono::TimeDelta::days(1));
    scene.submit("2026-06-18", None, count("80.0", "1.5")).await.expect(201);
    scene.record(BETWEEN, &[waste("dropped", None, "0.2")]).await.expect(201);
    scene.record(DATE, &[waste("dropped", None, "0.3")]).await.expect(201);
    assert_eq!(verify(&scene.house).await.differences, []);
}

/// What somebody altered by hand, and how it is told.
type Altered = (&'static str, fn(&mut Night), &'static str);

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_tally_altered_by_hand_is_named() {
    let scene = busy().await;
    let pg = scene.house.pg(SUPERUSER).await;
    let altered: [Altered; 6] = [
        (
            BETWEEN,
            |night| {
                let russet = night.day.items.get_mut(&russet()).expect("russet");
                russet.received += Tallied::from_thousandths(1);
            },
            "ford 2026-06-16 item russet received: stored 226800001, recomputed 226800000",
        ),
        (
            BETWEEN,
            |night| night.day.night.units = Some(7),
            "ford 2026-06-16 night units: stored 7, recomputed 304",
        ),
        (
            DATE,
            |night| night.spans.get_mut(&russet()).expect("a span").span.variance_cost = None,
            "ford 2026-06-17 span russet variance_cost: stored 0, recomputed ",
        ),
        (
            BETWEEN,
            |night| {
                for daypart in night.day.dayparts.values_mut() {
                    daypart.tickets.times = <_>::default();
                }
            },
            "ford 2026-06-16 times ",
        ),
        (BETWEEN, |night| night.spans.clear(), "ford 2026-06-16 span russet: stored null"),
        (
            FIRST,
            |night| {
                let dawn = DaypartKey {
                    daypart: "dawn".parse().expect("a code"),
                    channel: "counter".parse().expect("a code"),
                };
                night.day.dayparts.insert(dawn, <_>::default());
            },
            "ford 2026-06-15 daypart dawn/counter: stored [0,0,0,0,0,0,0,0], recomputed null",
        ),
    ];
    for (date, change, named) in altered {
        let before = verify(&scene.house).await.differences.len();
        alter(&pg, "ford", date, change).await;
        let after = verify(&scene.house).await.differences;
        assert!(after.len() > before, "{named}");
        let said: Vec<_> = after.iter().map(ToString::to_string).collect();
        assert!(said.iter().any(|line| line.contains(named)), "{named}\n{said:#?}");
    }
}

fn russet() -> ItemId {
    "russet".parse().expect("a code")
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_night_whose_tallies_are_gone_is_named() {
    let scene = busy().await;
    let pg = scene.house.pg(SUPERUSER).await;
    pg.execute("DELETE FROM nights WHERE business_date = '2026-06-15'", &[]).await.unwrap();
    let said: Vec<_> =
        verify(&scene.house).await.differences.iter().map(ToString::to_string).collect();
    let named = |line: &String| line.starts_with("ford 2026-06-15 night: stored null");
    assert!(said.iter().any(named), "{said:#?}");
}
