//! Recipes and prices that change within a week: the week is parted at the date, and the past is
//! restated only when somebody says so.

use parings::edge::new_id;
use parings_tests::house::Sending;
use parings_tests::night::of_item;
use reqwest::Method;
use serde_json::{Value, json};

use super::{Kitchen, fries, moment, price, rolled, said};

/// Counts of Monday 15 June and Thursday 18; a hundred sold on each night between.
async fn three_nights(kitchen: &Kitchen, monday: &str, thursday: &str) -> Value {
    kitchen.count("ford", "2026-06-15", monday).await;
    for date in ["2026-06-16", "2026-06-17", "2026-06-18"] {
        kitchen.sold("ford", date, 100).await;
    }
    kitchen.count("ford", "2026-06-18", thursday).await
}

async fn restate(kitchen: &Kitchen, from: &str, to: &str) -> Value {
    let key = new_id().to_string();
    let headers = [("Idempotency-Key", key.as_str())];
    let body = json!({ "from": from, "to": to, "stores": ["ford"], "reason": "Typed wrong" });
    let token = Some(kitchen.office.token.as_str());
    let sending = Sending { token, headers: &headers, json: Some(&body) };
    let reply = kitchen.house.send(Method::POST, "/v1/restatements", sending).await;
    reply.expect(200).json.clone()
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_recipe_that_changes_mid_week_parts_the_span_at_its_date() {
    let kitchen = Kitchen::open("2026-06-15T10:00:00Z").await;
    kitchen.change("products", "fries", "2026-06-17", fries("250")).await.expect(200);
    kitchen.house.clock.set(moment("2026-06-18T20:00:00Z"));
    let found = three_nights(&kitchen, "100", "28").await;
    // 72 used; 100 × 0.2 on the 16th, then 100 × 0.25 twice: 70.
    assert_eq!(said(of_item(&found, "potato")), "compared 2026-06-15 3 72 70 2 72.00");
    let row = kitchen.rollup("store:ford", "2026-06-16", "2026-06-18").await;
    assert_eq!(rolled(&row, "potato"), "72 3 72.00 70 2 3");
    // A count between shows each part: 100 − 79 against 20; 79 − 28 = 51 against 50.
    kitchen.count("ford", "2026-06-16", "79").await;
    let first = kitchen.span("ford", "2026-06-16", "potato").await;
    assert_eq!(first, "compared 2026-06-15 1 21 20 1 21.00");
    let rest = kitchen.span("ford", "2026-06-18", "potato").await;
    assert_eq!(rest, "compared 2026-06-16 2 51 50 1 51.00");
    let row = kitchen.rollup("store:ford", "2026-06-16", "2026-06-18").await;
    assert_eq!(rolled(&row, "potato"), "72 3 72.00 70 2 3");
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_price_that_changes_mid_week_parts_the_cost_at_its_date() {
    let kitchen = Kitchen::open("2026-06-15T10:00:00Z").await;
    kitchen.change("prices", "potato", "2026-06-18", price("1.50")).await.expect(200);
    kitchen.house.clock.set(moment("2026-06-18T20:00:00Z"));
    let found = three_nights(&kitchen, "100", "38").await;
    // 62 used against 60: 20 + 20 at 1.00, then 20 and the 2 of the variance at 1.50: 73.00.
    let potato = of_item(&found, "potato");
    assert_eq!(said(potato), "compared 2026-06-15 3 62 60 2 73.00");
    assert_eq!(potato["usage"]["variance"]["total"]["cost"], "3.00");
    let row = kitchen.rollup("store:ford", "2026-06-16", "2026-06-18").await;
    assert_eq!(rolled(&row, "potato"), "62 3 73.00 60 2 3");
    assert_eq!(row["money"]["variance"]["amount"]["value"], "3.00");
    assert_eq!(row["money"]["variance"]["expected"], "70.00");
}

/// The price of June was typed wrong and is corrected after the nights: nothing moves by itself.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_restated_price_moves_nothing_until_head_office_restates_the_nights() {
    let kitchen = Kitchen::open("2026-06-18T20:00:00Z").await;
    three_nights(&kitchen, "100", "38").await;
    let before = "compared 2026-06-15 3 62 60 2 62.00";
    assert_eq!(kitchen.span("ford", "2026-06-18", "potato").await, before);
    kitchen.house.clock.set(moment("2026-06-18T21:00:00Z"));
    kitchen.change("prices", "potato", "2026-06-01", price("2.00")).await.expect(200);
    assert_eq!(kitchen.span("ford", "2026-06-18", "potato").await, before);
    let row = kitchen.rollup("store:ford", "2026-06-16", "2026-06-18").await;
    assert_eq!(rolled(&row, "potato"), "62 3 62.00 60 2 3");

    kitchen.house.clock.set(moment("2026-06-18T22:00:00Z"));
    let done = restate(&kitchen, "2026-06-15", "2026-06-18").await;
    assert_eq!(done, json!({ "nights": 4, "stores": 1, "changed_spans": 1 }));
    let after = kitchen.receipt("ford", "2026-06-18").await;
    let potato = of_item(&after, "potato");
    // The same kilograms at 2.00.
    assert_eq!(said(potato), "compared 2026-06-15 3 62 60 2 124.00");
    assert_eq!(potato["usage"]["variance"]["total"]["cost"], "4.00");
    let restated = potato["usage"]["restated_at"].as_str().expect("a moment");
    assert_eq!(moment(restated), kitchen.house.clock.now());
    let row = kitchen.rollup("store:ford", "2026-06-16", "2026-06-18").await;
    assert_eq!(rolled(&row, "potato"), "62 3 124.00 60 2 3");
}
