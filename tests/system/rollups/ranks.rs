//! Children against each other, and spans against each other.

use parings_core::access::Role;
use serde_json::{Value, json};

use super::expect;
use super::scene::{Scene, day};

const FORTNIGHT: &str = "from=2026-06-15&to=2026-06-28";

/// From the 15th to the 28th, mill throws away 5 and 7 of 1,000 by turns, weir 9 and 11; in the two
/// weeks before, weir nothing of 800. Pool opened on the 10th and throws away 20.
async fn fortnight() -> Scene {
    let scene = Scene::set().await;
    let sql = "INSERT INTO reference_versions
        (kind, code, valid_from, recorded_at, body, store_id, district_id, owner_id)
        SELECT kind, 'pool', '2026-06-10', recorded_at, body, 'pool', district_id, owner_id
        FROM reference_versions WHERE code = 'weir'";
    scene.pg.execute(sql, &[]).await.expect("a store on record");
    let night = async |store: &str, on: u32, sales: i64, wasted: i64| {
        scene.night(store, on, Some(sales), json!({ "wasted_cost": wasted * 10_000 })).await;
    };
    for on in 1..=7 {
        night("weir", on, 800, 0).await;
    }
    for on in 15..=28 {
        let turn = if on % 2 == 0 { 1 } else { -1 };
        night("mill", on, 1000, 6 + turn).await;
        night("weir", on, 1000, 10 + turn).await;
        night("pool", on, 1000, 20).await;
    }
    scene
}

/// Fourteen nights one off the ratio each way: t(13) × √(14 × 14 ÷ 13) = 2.160 × 3.883 = 8.39 of
/// 14,000, or 0.60 per 1,000.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn children_are_ranked_by_plausible_ranges() {
    let scene = fortnight().await;
    let query = format!("scope=district:lower&children=true&rank_by=waste_of_sales&{FORTNIGHT}");
    let reply = scene.ask(Role::Office, &query).await;
    reply.expect(200);
    let expected = json!({ "by": "waste_of_sales", "per": 1000, "least_nights": 10, "children": [
        { "child": "pool", "value": "20.00", "low": "20.00", "high": "20.00", "nights": 14,
          "unranked": "new_store" },
        { "child": "weir", "value": "10.00", "low": "9.40", "high": "10.60", "nights": 14,
          "rank": { "low": 2, "high": 2, "of": 2 } },
        { "child": "mill", "value": "6.00", "low": "5.40", "high": "6.60", "nights": 14,
          "rank": { "low": 1, "high": 1, "of": 2 } },
    ]});
    assert_eq!(reply.json["ranking"], expected);

    // A week is too short for a rank, and nobody knows a variance here.
    for (by, why) in [("waste_of_sales", "too_few_nights"), ("variance_of_sales", "unknown")] {
        let query = format!("scope=district:lower&children=true&rank_by={by}");
        let week = "from=2026-06-22&to=2026-06-28";
        let reply = scene.ask(Role::Office, &format!("{query}&{week}")).await;
        let weir = &reply.expect(200).json["ranking"]["children"];
        let weir = weir.as_array().expect("children").iter().find(|c| c["child"] == "weir");
        expect(weir.expect("weir"), &[("/rank", Value::Null), ("/unranked", json!(why))]);
    }
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_span_is_compared_with_the_one_before_and_a_year_ago() {
    let scene = fortnight().await;
    let query = format!("scope=store:weir&compare=before,year_ago&{FORTNIGHT}");
    let reply = scene.ask(Role::Office, &query).await;
    let row = &reply.expect(200).json["rows"][0];
    expect(
        &row["compared"][0],
        &[
            ("/against", json!("before")),
            ("/from", json!(day(1))),
            ("/to", json!(day(14))),
            ("/nights/counted", json!(14)),
            (
                "/measures",
                json!({ "waste_of_sales": { "per": 1000, "then": "0.00", "then_nights": 14,
                    "change": "10.00", "low": "9.40", "high": "10.60" } }),
            ),
            ("/why", Value::Null),
        ],
    );
    expect(
        &row["compared"][1],
        &[
            ("/against", json!("year_ago")),
            ("/from", json!("2025-06-16")),
            ("/to", json!("2025-06-29")),
            ("/measures", Value::Null),
            ("/why", json!("too_few_nights")),
        ],
    );
    // Of mill, half of the nights before were counted.
    let query = format!("scope=store:mill&compare=before&{FORTNIGHT}");
    let reply = scene.ask(Role::Office, &query).await;
    let compared = &reply.expect(200).json["rows"][0]["compared"][0];
    expect(compared, &[("/nights/counted", json!(7)), ("/why", json!("too_few_nights"))]);
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn periods_are_the_networks_own() {
    let scene = Scene::set().await;
    let query = "scope=network&by=period&from=2026-05-30&to=2026-06-14";
    let reply = scene.ask(Role::Office, query).await;
    let rows = &reply.expect(200).json["rows"];
    expect(&rows[0], &[("/from", json!("2026-05-30")), ("/to", json!("2026-05-31"))]);
    expect(&rows[1], &[("/from", json!(day(1))), ("/to", json!(day(14)))]);
    // Ford's 6,000, mill's 3,000 and weir's 5,600 are in June.
    expect(&rows[1], &[("/sales/amount", json!("14600.00"))]);
    expect(&rows[0], &[("/sales", Value::Null)]);
    for (query, pointer) in [
        ("compare=never", "/compare"),
        ("compare=before&by=day", "/compare"),
        ("rank_by=food_cost", "/rank_by"),
        ("rank_by=food_cost&children=true&by=week", "/rank_by"),
    ] {
        let query = format!("scope=network&from={}&to={}&{query}", day(8), day(14));
        let reply = scene.ask(Role::Office, &query).await;
        assert_eq!(reply.expect_problem(422, "invalid").pointers(), [pointer]);
    }
}
