//! Roll-ups by reason, stage, daypart and channel, and of one item.

use parings_core::access::Role;
use serde_json::{Value, json};

use super::scene::{Scene, day};
use super::{coach, expect, item, over, rate};

const KG: i64 = 1_000_000;
const ONE: i64 = 10_000;

/// On the 8th, mill threw away 3 kg of potatoes at 1.00, and 3 more for safety; its night says 5.00,
/// with what else there was. A delivery cost 1.2345 more than the standard.
async fn wasted() -> Scene {
    let scene = Scene::set().await;
    let line = |reason: &str, safety: bool, stage: Value, daypart: Value, kg: i64| {
        json!({ "reason": reason, "safety": safety, "stage": stage, "daypart": daypart,
            "amount": kg * KG, "cost": kg * ONE })
    };
    let waste = [
        line("expired", false, json!("trim"), json!("dinner"), 2),
        line("dropped", false, json!("trim"), Value::Null, 1),
        line("cooling", true, Value::Null, json!("dinner"), 3),
    ];
    let row = json!({ "item_id": "potato", "waste": waste, "wasted": 6 * KG,
        "wasted_cost": 6 * ONE, "wasted_safety": 3 * KG, "wasted_safety_cost": 3 * ONE,
        "stock_out_minutes": 10, "price_effect": 12_345 });
    scene.tally("item_days", "mill", 8, row).await;
    scene
}

/// Of mill's six nights with sales of 500 each, potatoes thrown away are 3.00 of 3,000.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn the_waste_of_one_item() {
    let scene = wasted().await;
    let query = "scope=store:mill&item=potato&waste_lines=true";
    let rows = scene.rows(Role::Office, query).await;
    let third = rate("33.33", 100, "1.00", "3.00", 7);
    let rest = rate("66.67", 100, "2.00", "3.00", 7);
    let amount = |kg: &str| json!({ "value": kg, "unit": "kg" });
    expect(
        &rows[0],
        &[
            ("/money/wasted", json!("3.00")),
            ("/money/wasted_safety", json!("3.00")),
            ("/money/waste_of_sales", rate("1.00", 1000, "3.00", "3000.00", 6)),
            ("/money/price_effect", json!("1.23")),
            ("/stock_out_minutes", json!(10)),
            (
                "/waste_by_stage",
                json!([{ "stage": "trim", "cost": "3.00",
                    "share": rate("100.00", 100, "3.00", "3.00", 7) }]),
            ),
            (
                "/waste_by_daypart",
                json!([{ "cost": "1.00", "share": third },
                    { "daypart": "dinner", "cost": "2.00", "share": rest }]),
            ),
            (
                "/waste_lines",
                json!([
                    { "reason": "cooling", "safety": true, "daypart": "dinner", "lines": 1,
                      "amount": amount("3"), "cost": "3.00" },
                    { "reason": "dropped", "safety": false, "stage": "trim", "lines": 1,
                      "amount": amount("1"), "cost": "1.00", "share": third },
                    { "reason": "expired", "safety": false, "stage": "trim", "daypart": "dinner",
                      "lines": 1, "amount": amount("2"), "cost": "2.00", "share": rest },
                ]),
            ),
        ],
    );
    expect(item(&rows[0], "potato"), &[("/price_effect", json!("1.23"))]);

    // Another item: nothing of the first is in it.
    let rows = scene.rows(Role::Office, "scope=store:ford&item=oil").await;
    assert_eq!(rows[0]["items"].as_array().map(Vec::len), Some(1));
    expect(
        &rows[0],
        &[
            ("/money/used/cost", json!("40.00")),
            ("/money/wasted", json!("0.00")),
            (
                "/money/variance/of_sales",
                over(
                    rate("0.07", 100, "4.00", "6000.00", 6),
                    &[("week", rate("0.07", 100, "4.00", "6000.00", 6), "4.00", 1)],
                ),
            ),
            ("/waste_by_reason", Value::Null),
            ("/stock_out_minutes", Value::Null),
            ("/sales/amount", json!("6000.00")),
        ],
    );
}

/// Of one daypart there are orders, tickets and waste; use is not known by daypart.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn one_daypart_or_channel() {
    let scene = wasted().await;
    let rows = scene.rows(coach("upper"), "scope=district:upper&daypart=dinner").await;
    expect(
        &rows[0],
        &[
            ("/tickets/orders", json!(101)),
            ("/dayparts/0/daypart", json!("dinner")),
            // Ford's 56.00 and three of mill's nights of 5.00.
            (
                "/waste_by_daypart",
                json!([{ "daypart": "dinner", "cost": "2.00",
                    "share": rate("2.82", 100, "2.00", "71.00", 9) }]),
            ),
            ("/money", Value::Null),
            ("/items", Value::Null),
            ("/sales", Value::Null),
        ],
    );
    for other in ["daypart=lunch", "daypart=dinner&channel=delivery"] {
        let rows = scene.rows(coach("upper"), &format!("scope=district:upper&{other}")).await;
        for part in ["/tickets", "/dayparts", "/waste_by_reason"] {
            expect(&rows[0], &[(part, Value::Null)]);
        }
    }
    for (query, pointer) in
        [("item=Potato", "/item"), ("daypart=Late%20night", "/daypart"), ("channel=", "/channel")]
    {
        let query = format!("scope=network&from={}&to={}&{query}", day(8), day(14));
        let reply = scene.ask(Role::Office, &query).await;
        assert_eq!(reply.expect_problem(422, "invalid").pointers(), [pointer]);
    }
}
