//! Nights closed, missing, late, first, or counted in part, and items that are counted once a week.
//! Blank is not zero; closed is not zero; missing is not zero.

use parings_tests::night::{count, line, night, of_item, submit, with};
use serde_json::json;

use super::{Kitchen, moment, nights, rolled, said};

/// Saturday 20 June and Monday 22; nobody works on the Sunday between.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_closed_day_is_neither_missing_nor_zero_and_spans_pass_over_it() {
    let kitchen = Kitchen::open("2026-06-23T20:00:00Z").await;
    kitchen.count("ford", "2026-06-20", "100").await;
    kitchen.sold("ford", "2026-06-22", 100).await;
    kitchen.count("ford", "2026-06-22", "79").await;
    // One open night: 21 against 100 × 0.2.
    assert_eq!(
        kitchen.span("ford", "2026-06-22", "potato").await,
        "compared 2026-06-20 1 21 20 1 21.00"
    );
    let sunday = kitchen.receipt("ford", "2026-06-21").await;
    assert_eq!((&sunday["items_due"], &sunday["sales_from"]), (&json!(0), &json!("none")));
    assert!(sunday.get("count").is_none() && sunday.get("sales").is_none());
    let row = kitchen.rollup("store:ford", "2026-06-21", "2026-06-22").await;
    assert_eq!(nights(&row), "1 1 0 0 1 0");
    assert_eq!(rolled(&row, "potato"), "21 1 21.00 20 1 1");
    assert_eq!(row["sales"], json!({ "amount": "100.00", "nights": 1 }));
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn the_first_count_ever_is_a_baseline_and_no_use() {
    let kitchen = Kitchen::open("2026-06-17T20:00:00Z").await;
    kitchen.sold("ford", "2026-06-16", 100).await;
    let first = kitchen.count("ford", "2026-06-16", "79").await;
    assert_eq!(said(of_item(&first, "potato")), "baseline - - - - - -");
    let row = kitchen.rollup("store:ford", "2026-06-16", "2026-06-16").await;
    // Counted, sold, and nothing said of use: neither zero nor all of 79.
    assert_eq!(nights(&row), "1 1 0 0 0 0");
    assert_eq!(rolled(&row, "potato"), "- - - - - -");
    assert_eq!(row["units"], json!({ "count": 100, "nights": 1 }));
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_missing_night_filled_in_later_parts_the_span_and_says_restated() {
    let kitchen = Kitchen::open("2026-06-18T20:00:00Z").await;
    kitchen.count("ford", "2026-06-15", "100").await;
    for date in ["2026-06-16", "2026-06-17"] {
        kitchen.sold("ford", date, 100).await;
    }
    kitchen.count("ford", "2026-06-17", "57").await;
    // Nobody counted on the 16th: 43 over two nights, against 200 × 0.2.
    assert_eq!(
        kitchen.span("ford", "2026-06-17", "potato").await,
        "compared 2026-06-15 2 43 40 3 43.00"
    );
    let row = kitchen.rollup("store:ford", "2026-06-16", "2026-06-17").await;
    assert_eq!(
        (nights(&row).as_str(), rolled(&row, "potato").as_str()),
        ("2 1 0 1 0 0", "43 2 43.00 40 3 2")
    );

    kitchen.house.clock.set(moment("2026-06-18T21:00:00Z"));
    let late = kitchen.count("ford", "2026-06-16", "79").await;
    // 100 − 79 = 21, and 79 − 57 = 22.
    assert_eq!(said(of_item(&late, "potato")), "compared 2026-06-15 1 21 20 1 21.00");
    assert!(of_item(&late, "potato")["usage"].get("restated_at").is_none());
    let after = kitchen.receipt("ford", "2026-06-17").await;
    let after = of_item(&after, "potato");
    assert_eq!(said(after), "compared 2026-06-16 1 22 20 2 22.00");
    let restated = after["usage"]["restated_at"].as_str().expect("a moment");
    assert_eq!(moment(restated), kitchen.house.clock.now());
    let row = kitchen.rollup("store:ford", "2026-06-16", "2026-06-17").await;
    assert_eq!(
        (nights(&row).as_str(), rolled(&row, "potato").as_str()),
        ("2 2 0 0 0 0", "43 2 43.00 40 3 2")
    );
}

/// Salt at 10 g a portion, counted on Tuesdays; the count of Friday 19 June is missing.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_weekly_item_spans_its_week_across_a_missing_night() {
    let kitchen = Kitchen::open("2026-06-24T20:00:00Z").await;
    let salt = json!({ "title": "Salt", "group": "food", "base": "mass",
        "rhythm": { "every": "week", "on": "tue" },
        "shelves": [{ "place": "dry-store", "unit": "kg" }] });
    kitchen.put("items", "salt", salt).await;
    kitchen.put("prices", "salt", super::price("0.50")).await;
    let mut fries = super::fries("200");
    fries["sizes"][0]["lines"]
        .as_array_mut()
        .expect("lines")
        .push(json!({ "item": "salt", "quantity": { "value": "10", "unit": "g" } }));
    kitchen.change("products", "fries", "2026-01-03", fries).await.expect(200);
    let tuesday = |potato: &str, salt: &str| {
        [line("potato", "dry-store", potato, "kg"), line("salt", "dry-store", salt, "kg")]
    };
    kitchen.lines("ford", "2026-06-16", &tuesday("200", "20")).await;
    let nights_of = [
        ("2026-06-17", "179"),
        ("2026-06-18", "158"),
        ("2026-06-19", ""),
        ("2026-06-20", "116"),
        ("2026-06-22", "95"),
    ];
    for (date, kg) in nights_of {
        kitchen.sold("ford", date, 100).await;
        if !kg.is_empty() {
            kitchen.count("ford", date, kg).await;
        }
    }
    kitchen.sold("ford", "2026-06-23", 100).await;
    let found = kitchen.lines("ford", "2026-06-23", &tuesday("74", "13.5")).await;
    // 20 − 13.5 = 6.5 kg over six open nights, against 600 × 0.01; at 0.50 a kilogram.
    assert_eq!(said(of_item(&found, "salt")), "compared 2026-06-16 6 6.5 6 0.5 3.25");
    // The nightly item has a span of two nights there: 158 − 116 = 42.
    assert_eq!(
        kitchen.span("ford", "2026-06-20", "potato").await,
        "compared 2026-06-18 2 42 40 2 42.00"
    );
    let row = kitchen.rollup("store:ford", "2026-06-17", "2026-06-23").await;
    assert_eq!(nights(&row), "6 5 0 1 1 0");
    assert_eq!(rolled(&row, "salt"), "6.5 6 3.25 6 0.5 6");
    assert_eq!(rolled(&row, "potato"), "126 6 126.00 120 6 6");
}

/// Sauce stands in two places, of which one is left blank on the 17th: its use waits for the 18th.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_partial_count_leaves_use_unknown_for_its_blank_lines_alone() {
    let kitchen = Kitchen::open("2026-06-18T20:00:00Z").await;
    let sauce = json!({ "title": "Sauce", "group": "food", "base": "volume",
        "rhythm": { "every": "night" }, "shelves": [
            { "place": "cold-room", "unit": "l" }, { "place": "dry-store", "unit": "l" }] });
    kitchen.put("items", "sauce", sauce).await;
    let potato = |kg: &str| line("potato", "dry-store", kg, "kg");
    let cold = |l: &str| line("sauce", "cold-room", l, "l");
    let dry = |l: &str| line("sauce", "dry-store", l, "l");
    for date in ["2026-06-17", "2026-06-18"] {
        kitchen.sold("ford", date, 100).await;
    }
    kitchen.lines("ford", "2026-06-16", &[potato("100"), cold("4"), dry("8")]).await;
    let part = with(count(&[potato("79"), cold("3")]), "complete", false);
    let path = night("ford", "2026-06-17");
    let found = submit(&kitchen.house, &kitchen.office, &path, &part).await;
    assert_eq!((&found["items_due"], &found["items_counted"]), (&json!(2), &json!(1)));
    assert_eq!(said(of_item(&found, "potato")), "compared 2026-06-16 1 21 20 1 21.00");
    assert_eq!(said(of_item(&found, "sauce")), "not_counted - - - - - -");
    let row = kitchen.rollup("store:ford", "2026-06-17", "2026-06-17").await;
    assert_eq!(nights(&row), "1 1 1 0 0 0");
    assert_eq!(
        (rolled(&row, "potato").as_str(), rolled(&row, "sauce").as_str()),
        ("21 1 21.00 20 1 1", "nothing")
    );

    // 12 − 9 = 3 l in two nights. Nobody sells sauce, so all of it is more than expected.
    let last = kitchen.lines("ford", "2026-06-18", &[potato("58"), cold("2"), dry("7")]).await;
    assert_eq!(said(of_item(&last, "potato")), "compared 2026-06-17 1 21 20 1 21.00");
    assert_eq!(said(of_item(&last, "sauce")), "compared 2026-06-16 2 3 0 3 -");
    let row = kitchen.rollup("store:ford", "2026-06-17", "2026-06-18").await;
    assert_eq!(rolled(&row, "potato"), "42 2 42.00 40 2 2");
    assert_eq!(rolled(&row, "sauce"), "3 2 - 0 3 2");
}
