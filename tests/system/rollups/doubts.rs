//! What is not relied on stays out of what compares, and is told apart.

use parings_core::access::Role;
use parings_core::tally::Doubt;
use parings_tests::tallies::alter;
use serde_json::{Value, json};

use super::scene::{Scene, day};
use super::{coach, expect, item, manager, over, rate};

/// Of ford's five spans of potatoes the one of the 10th is in doubt: 250 kg of 240 over five nights.
/// Its counts cancel with no neighbour any more: two runs, four ends of 2 kg, √16. The nights it is in
/// doubt of count like the others: 250 of 5,000, and so 300 of 6,000, and the oil.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_span_in_doubt_is_in_no_figure_that_compares() {
    let food = |cost: &str| {
        let nights = if cost == "300.00" { 6 } else { 5 };
        over(
            rate("5.67", 100, "340.00", "6000.00", 6),
            &[
                ("night", rate("5.00", 100, "300.00", "6000.00", nights), cost, 1),
                ("week", rate("0.67", 100, "40.00", "6000.00", 6), "40.00", 1),
            ],
        )
    };
    let scene = Scene::set().await;
    let before = scene.rows(manager("ford"), "scope=store:ford").await;
    expect(&before[0], &[("/doubtful", Value::Null), ("/money/food_cost", food("300.00"))]);
    alter(&scene.pg, "ford", &day(10), |night| {
        let ended = night.spans.get_mut(&"potato".parse().expect("a code")).expect("a span");
        ended.span.doubts = [Doubt::NegativeUse, Doubt::ShortDays].into();
    })
    .await;
    let rows = scene.rows(manager("ford"), "scope=store:ford").await;
    let doubtful = json!({ "spans": 1, "used_cost": "50.00",
        "by": { "negative_use": 1, "short_days": 1 } });
    expect(
        &rows[0],
        &[
            ("/doubtful", doubtful.clone()),
            ("/money/used", json!({ "cost": "290.00", "item_nights": 11 })),
            ("/money/food_cost", food("250.00")),
            (
                "/money/variance/of_sales",
                over(
                    rate("0.27", 100, "16.00", "6000.00", 6),
                    &[
                        ("night", rate("0.20", 100, "12.00", "6000.00", 5), "10.00", 1),
                        ("week", rate("0.07", 100, "4.00", "6000.00", 6), "4.00", 1),
                    ],
                ),
            ),
            // 240 and 36 of 250 and 40.
            ("/money/variance/accounted", rate("95.17", 100, "276.00", "290.00", 11)),
        ],
    );
    expect(
        item(&rows[0], "potato"),
        &[
            ("/doubtful", doubtful),
            ("/used/amount/value", json!("250")),
            ("/used/nights", json!(5)),
            ("/variance/amount", json!({ "value": "10", "unit": "kg", "sd": "4" })),
            ("/variance/of_expected", rate("4.17", 100, "10", "240", 5)),
            ("/food_cost", rate("5.00", 100, "250.00", "5000.00", 5)),
        ],
    );
    expect(item(&rows[0], "oil"), &[("/doubtful", Value::Null)]);
}

/// Without the short 11th, 46 of 5,000; its sales stay.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_short_night_is_in_no_ratio_of_waste_to_sales() {
    let scene = Scene::set().await;
    alter(&scene.pg, "ford", &day(11), |night| night.day.night.short = true).await;
    alter(&scene.pg, "ford", &day(14), |night| night.day.night.items_left_out = 2).await;
    let rows = scene.rows(manager("ford"), "scope=store:ford").await;
    expect(
        &rows[0],
        &[
            ("/nights/short", json!(1)),
            ("/nights/items_left_out", json!(2)),
            ("/sales/amount", json!("6000.00")),
            ("/money/wasted", json!("56.00")),
            ("/money/waste_of_sales", rate("9.20", 1000, "46.00", "5000.00", 5)),
        ],
    );
}

/// A count that waits leaves its night missing, and says so; one that would amend an accepted count
/// displaces nothing.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_count_that_waits_is_missing_and_held() {
    let scene = Scene::set().await;
    let revision = |state: &str| {
        json!({ "revision": 1, "body": {}, "state": state, "recorded_at": "2026-06-13T02:00:00Z",
            "submitted_by": "018f2f9e-0000-7000-8000-000000000001",
            "write_id": "018f2f9e-0000-7000-8000-000000000002" })
    };
    scene.tally("night_revisions", "ford", 12, revision("held")).await;
    scene.tally("night_revisions", "ford", 10, revision("proposed")).await;
    let held = [("/nights/missing", json!(1)), ("/nights/held", json!(1))];
    for (role, scope) in [
        (manager("ford"), "store:ford"),
        (coach("upper"), "district:upper"),
        (Role::Office, "network"),
    ] {
        let rows = scene.rows(role, &format!("scope={scope}")).await;
        expect(&rows[0], &held);
        expect(&rows[0], &[("/complete", json!(false))]);
    }
    let declined = json!({ "revision": 1, "outcome": "declined", "left_out": [],
        "recorded_at": "2026-06-13T06:00:00Z" });
    scene.tally("night_settlements", "ford", 12, declined).await;
    let rows = scene.rows(manager("ford"), "scope=store:ford").await;
    expect(&rows[0], &[("/nights/missing", json!(1)), ("/nights/held", json!(0))]);
}
