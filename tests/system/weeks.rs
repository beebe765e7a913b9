//! Weeks that are added up beforehand say nothing else than their nights, and nobody sees that they are
//! there.

use std::path::Path;

use parings::app::night::weeks;
use parings::cluster::SUPERUSER;
use parings::cluster::roles::OWNER;
use parings::demo::{self, Size};
use parings_tests::house::House;
use serde_json::Value;

use crate::verify::verify;

/// What is asked for: spans that begin and end within weeks, cut in every way, of every kind of scope.
const ASKED: [&str; 8] = [
    "scope=network&from=2026-05-13&to=2026-06-14",
    "scope=network&from=2026-05-18&to=2026-06-14&by=week&children=true",
    "scope=network&from=2026-05-14&to=2026-06-12&by=period&children=true",
    "scope=network&from=2026-05-25&to=2026-06-07&compare=before&waste_lines=true",
    "scope=district:headwaters&from=2026-05-18&to=2026-06-07&children=true&rank_by=food_cost",
    "scope=store:hethermill&from=2026-05-12&to=2026-06-10",
    "scope=network&from=2026-05-18&to=2026-06-07&item=potato",
    "scope=network&from=2026-05-18&to=2026-06-07&by=day",
];

struct Demo {
    house: House,
    office: String,
}

impl Demo {
    /// A small chain with six weeks behind it, whose last night is Sunday 14 June 2026.
    async fn load() -> Self {
        let house = House::running().await;
        let (owner, folder) = (house.database.url(OWNER), tempfile::tempdir().expect("a folder"));
        let size = Size { stores: 6, weeks: 6, seed: 0 };
        let path: &Path = folder.path();
        let loaded =
            demo::load(&house.deps, &owner, path, size, house.clock.now(), |_, _| ()).await;
        loaded.expect("the demo loads").expect("a network without stores");
        let office = house.person(parings_core::access::Role::Office).await;
        let office = house.token(&office);
        Self { house, office }
    }

    async fn ask(&self) -> Vec<Value> {
        let mut answers = Vec::new();
        for query in ASKED {
            let reply = self.house.get(&format!("/v1/rollups?{query}"), Some(&self.office)).await;
            reply.expect(200);
            answers.push(reply.json);
        }
        answers
    }

    async fn keep(&self) -> usize {
        weeks::keep(&self.house.deps, |_, _| ()).await.expect("weeks added up")
    }

    async fn execute(&self, sql: &str) {
        let pg = self.house.pg(SUPERUSER).await;
        pg.batch_execute(sql).await.expect(sql);
    }
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn roll_ups_are_the_same_with_weeks_and_without() {
    let demo = Demo::load().await;
    let by_night = demo.ask().await;
    let kept = demo.keep().await;
    assert!(kept >= 6 * 5, "{kept} weeks of six stores");
    assert_eq!(demo.keep().await, 0, "nothing is left to do");
    let by_week = demo.ask().await;
    for ((query, nights), weeks) in ASKED.iter().zip(&by_night).zip(&by_week) {
        assert_eq!(weeks, nights, "{query}");
    }
    let report = verify(&demo.house).await;
    assert_eq!((report.weeks, report.differences), (kept, vec![]));

    // They are read: were the nights of a whole week to hold nothing, without saying so, nobody would
    // notice; but by day, and of one item, the nights themselves are asked.
    demo.execute(
        "UPDATE nights SET packed = '\\x00' WHERE business_date BETWEEN '2026-05-25' AND '2026-06-07'",
    )
    .await;
    let (token, [first, _, _, _, fifth, _, one_item, by_day]) = (Some(demo.office.as_str()), ASKED);
    for (query, answer) in [(first, &by_night[0]), (fifth, &by_night[4])] {
        let reply = demo.house.get(&format!("/v1/rollups?{query}"), token).await;
        assert_eq!(&reply.json, answer, "{query}");
    }
    for query in [one_item, by_day] {
        demo.house.get(&format!("/v1/rollups?{query}"), token).await.expect(500);
    }
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_week_that_no_longer_stands_by_its_nights_is_not_read() {
    let demo = Demo::load().await;
    let kept = demo.keep().await;
    let whole = demo.ask().await;
    // The nights of a week say something else, and so stand by other generations.
    demo.execute(
        "UPDATE nights n SET (counted, others, packed, generation)
           = (o.counted, o.others, o.packed, nextval('night_generations'))
         FROM nights o WHERE n.store_id = 'hethermill' AND n.business_date = '2026-06-02'
           AND o.store_id = 'hethermill' AND o.business_date = '2026-06-09'",
    )
    .await;
    let changed = demo.ask().await;
    assert!(changed.iter().zip(&whole).all(|(now, was)| now != was));
    assert_eq!(verify(&demo.house).await.weeks, kept - 1);
    assert_eq!(demo.keep().await, 1);
    assert_eq!(demo.ask().await, changed);
    // So is a week of another form, which another version of the server kept.
    demo.execute(
        "UPDATE weeks SET (form, packed) = (form + 1, '\\x02') WHERE store_id = 'hethermill'",
    )
    .await;
    assert_eq!(demo.ask().await, changed);
    assert!(demo.keep().await >= 5, "all of the store's weeks");
    // A night less is noticed as well.
    demo.execute(
        "DELETE FROM nights WHERE store_id = 'hethermill' AND business_date = '2026-06-03'",
    )
    .await;
    let missing = demo.ask().await;
    assert!(missing.iter().zip(&changed).all(|(now, was)| now != was));
    assert_eq!(demo.keep().await, 1);
    assert_eq!(demo.ask().await, missing);
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn no_week_is_kept_within_which_a_store_moved_or_that_is_not_over() {
    let demo = Demo::load().await;
    demo.execute(
        "UPDATE nights SET owner_id = 'somebody', generation = nextval('night_generations')
         WHERE store_id = 'hethermill' AND business_date >= '2026-06-04'",
    )
    .await;
    demo.keep().await;
    let sql =
        "SELECT week::text FROM weeks WHERE store_id = 'hethermill' ORDER BY week DESC LIMIT 2";
    let pg = demo.house.pg(SUPERUSER).await;
    let last: Vec<String> =
        pg.query(sql, &[]).await.expect(sql).iter().map(|row| row.get(0)).collect();
    // The week from Monday 1 June has the change in it; that of 8 June ended on the evening before.
    assert_eq!(last, ["2026-06-08", "2026-05-25"]);
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_week_that_says_something_else_than_its_nights_is_a_difference() {
    let demo = Demo::load().await;
    demo.keep().await;
    demo.execute(
        "UPDATE weeks w SET (codes, packed) = (o.codes, o.packed) FROM weeks o
         WHERE w.store_id = 'hethermill' AND w.week = '2026-06-01'
           AND o.store_id = 'hethermill' AND o.week = '2026-05-25'",
    )
    .await;
    let found = verify(&demo.house).await.differences;
    let said: Vec<String> = found.iter().map(ToString::to_string).collect();
    let one = "hethermill 2026-06-01 week: stored \"another sum\", recomputed \"what its nights add \
               up to\"";
    assert_eq!(said, [one]);
}
