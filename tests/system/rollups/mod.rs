//! Roll-ups over HTTP. Every expected figure is worked out by hand from the [`scene`].

mod doubts;
mod parts;
mod ranks;
mod scene;

use parings_core::access::Role;
use scene::{Scene, day};
use serde_json::{Value, json};

fn coach(district: &str) -> Role {
    Role::Coach(vec![district.parse().expect("a code")])
}

fn owner(owner: &str) -> Role {
    Role::Owner(vec![owner.parse().expect("a code")])
}

fn manager(store: &str) -> Role {
    Role::Manager(vec![store.parse().expect("a code")])
}

fn crew(store: &str) -> Role {
    Role::Crew(vec![store.parse().expect("a code")])
}

/// Fails unless each of these members is this.
#[track_caller]
fn expect(row: &Value, expected: &[(&str, Value)]) {
    for (pointer, value) in expected {
        let found = row.pointer(pointer).unwrap_or(&Value::Null);
        assert_eq!(found, value, "{pointer} of {row:#}");
    }
}

fn nights(numbers: [u64; 6]) -> Value {
    let [expected, counted, partial, missing, closed, left_out] = numbers;
    json!({ "expected": expected, "counted": counted, "partial": partial, "missing": missing,
        "closed": closed, "left_out": left_out, "short": 0, "held": 0, "items_left_out": 0,
        "to_come": 0 })
}

fn rate(value: &str, per: u32, numerator: &str, denominator: &str, nights: u64) -> Value {
    json!({ "value": value, "per": per, "numerator": numerator, "denominator": denominator,
        "nights": nights })
}

/// A cost over sales: the whole, and its parts by rhythm with what their spans cost and how many items
/// they are of.
fn over(whole: Value, parts: &[(&str, Value, &str, u64)]) -> Value {
    let mut whole = whole;
    whole["rhythms"] = parts
        .iter()
        .map(|(every, part, cost, items)| {
            let mut part = part.clone();
            (part["every"], part["cost"], part["items"]) =
                (json!(every), json!(cost), json!(items));
            part
        })
        .collect();
    whole
}

#[track_caller]
fn item<'a>(row: &'a Value, code: &str) -> &'a Value {
    let mut items = row["items"].as_array().into_iter().flatten();
    items.find(|item| item["item"] == code).unwrap_or_else(|| panic!("no {code} in {row:#}"))
}

/// Ford used 6 × 50 kg against 48: its run of counts has two ends, of 2 kg each: √8 = 2.828. Its
/// Friday's use is in Saturday's span. Oil: 20 l against 18.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_stores_week() {
    let scene = Scene::set().await;
    let rows = scene.rows(manager("ford"), "scope=store:ford").await;
    assert_eq!(rows.len(), 1);
    let row = &rows[0];
    expect(
        row,
        &[
            ("/child", Value::Null),
            ("/nights", nights([6, 5, 0, 1, 1, 0])),
            ("/sales", json!({ "amount": "6000.00", "nights": 6 })),
            ("/units", json!({ "count": 600, "nights": 6 })),
            // 12 kg at 1.00 and 2 l at 2.00, each over the sales of its own spans.
            ("/money/variance/amount/value", json!("16.00")),
            (
                "/money/variance/of_sales",
                over(
                    rate("0.27", 100, "16.00", "6000.00", 6),
                    &[
                        ("night", rate("0.20", 100, "12.00", "6000.00", 6), "12.00", 1),
                        ("week", rate("0.07", 100, "4.00", "6000.00", 6), "4.00", 1),
                    ],
                ),
            ),
            ("/money/variance/of_expected", rate("4.94", 100, "16.00", "324.00", 12)),
            ("/money/variance/accounted", rate("95.29", 100, "324.00", "340.00", 12)),
            ("/money/used", json!({ "cost": "340.00", "item_nights": 12 })),
            // √(2.828² × 1.00² + 0.707² × 2.00²) = √10.
            ("/money/variance/amount/sd", json!("3.16")),
            // Six nights of 10.00, of which 4.00 for safety.
            ("/money/wasted", json!("56.00")),
            ("/money/wasted_safety", json!("4.00")),
            ("/money/waste_of_sales", rate("9.33", 1000, "56.00", "6000.00", 6)),
            ("/stock_out_minutes", Value::Null),
        ],
    );
    expect(
        item(row, "potato"),
        &[
            ("/used/amount", json!({ "value": "300", "unit": "kg" })),
            ("/used/nights", json!(6)),
            ("/variance/amount", json!({ "value": "12", "unit": "kg", "sd": "2.828" })),
            ("/variance/of_expected", rate("4.17", 100, "12", "288", 6)),
            ("/variance_cost/of_sales", rate("0.20", 100, "12.00", "6000.00", 6)),
            ("/wasted/amount/value", json!("56")),
            ("/wasted_safety", json!({ "amount": { "value": "4", "unit": "kg" }, "cost": "4.00" })),
            ("/batch_yield", rate("98.37", 100, "181", "184", 1)),
            ("/stock_out_minutes", json!(35)),
            ("/variance/causes/over_portioning", Value::Null),
        ],
    );
    expect(
        item(row, "oil"),
        &[("/variance/amount", json!({ "value": "2", "unit": "l", "sd": "0.707" }))],
    );
    let reasons = json!([
        { "reason": "cooling", "safety": true, "cost": "4.00" },
        { "reason": "expired", "safety": false, "cost": "56.00",
          "share": rate("100.00", 100, "56.00", "56.00", 6) },
    ]);
    assert_eq!(row["waste_by_reason"], reasons);
}

/// Mill stood in upper on three nights, of which one without sales: 2 × (30 − 31) = −2 kg over two
/// nights. Upper has 12 − 2 of 288 + 62. Ford's run has two ends, mill's two spans four: √(6 × 4).
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_districts_week_with_a_store_that_left() {
    let scene = Scene::set().await;
    let rows = scene.rows(coach("upper"), "scope=district:upper&children=true").await;
    let children: Vec<_> = rows.iter().map(|row| row["child"].as_str()).collect();
    assert_eq!(children, [None, Some("ford"), Some("mill")]);
    expect(
        &rows[0],
        &[
            ("/nights", nights([9, 8, 0, 1, 1, 1])),
            ("/sales", json!({ "amount": "7000.00", "nights": 8 })),
            // Potatoes 10 of 7,000; oil was counted at ford alone, and is kept at mill too: 4 of 6,000
            // for each of 7,000.
            (
                "/money/variance/of_sales",
                over(
                    rate("0.21", 100, "14.67", "7000.00", 8),
                    &[
                        ("night", rate("0.14", 100, "10.00", "7000.00", 8), "10.00", 1),
                        ("week", rate("0.07", 100, "4.67", "7000.00", 6), "4.00", 1),
                    ],
                ),
            ),
            // Mill's waste of the 9th is in no ratio: 56 + 2 × 5 of 7000.
            ("/money/wasted", json!("71.00")),
            ("/money/waste_of_sales", rate("9.43", 1000, "66.00", "7000.00", 8)),
        ],
    );
    expect(
        item(&rows[0], "potato"),
        &[
            ("/used/amount/value", json!("390")),
            ("/used/nights", json!(9)),
            ("/variance/amount", json!({ "value": "10", "unit": "kg", "sd": "4.899" })),
            ("/variance/of_expected", rate("2.86", 100, "10", "350", 8)),
        ],
    );
    expect(
        &rows[2],
        &[
            ("/nights", nights([3, 3, 0, 0, 0, 1])),
            ("/from", json!(day(8))),
            ("/to", json!(day(14))),
        ],
    );
    expect(
        item(&rows[2], "potato"),
        &[("/variance/amount", json!({ "value": "-2", "unit": "kg", "sd": "4" }))],
    );
}

/// Cut at the 11th, mill's count of the 10th is an end in both regions; in the network it cancels.
/// Valley √(8 + 16), coast √(8 + 8), network √(8 + 16 + 8): mill's later run begins on the 9th.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn the_network_by_region() {
    let scene = Scene::set().await;
    let rows = scene.rows(Role::Office, "scope=network&children=true").await;
    let found: Vec<_> = rows
        .iter()
        .map(|row| {
            let variance = &item(row, "potato")["variance"];
            let (amount, expected) = (&variance["amount"], &variance["expected"]["value"]);
            [&row["child"], &amount["value"], &amount["sd"], expected, &variance["nights"]]
                .map(|part| part.as_str().map_or_else(|| part.to_string(), str::to_owned))
        })
        .collect();
    assert_eq!(
        found,
        [
            ["null", "6", "5.657", "754", "19"],
            ["coast", "-4", "4", "404", "11"],
            ["valley", "10", "4.899", "350", "8"],
        ]
    );
    expect(&rows[0], &[("/nights", nights([20, 19, 1, 1, 1, 1]))]);
    expect(&rows[1], &[("/nights", nights([11, 11, 1, 0, 0, 0]))]);
}

/// Of 90 tickets of 300 s and 10 in the bin of 1,200 s: p90 is 300 s, where the mean of the stores'
/// own would be 752; 90 of 100 are within target, Wilson 82.6 to 94.5 %. Mill alone has too few
/// to show a percentile, and of its 11 one is never closed: 9 %.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn tickets_are_pooled() {
    let scene = Scene::set().await;
    let rows = scene.rows(coach("upper"), "scope=district:upper&children=true").await;
    let within = json!({ "value": "90.00", "per": 100, "numerator": "90", "denominator": "100",
        "nights": 2, "low": "82.6", "high": "94.5" });
    let tickets = json!({ "orders": 101, "timed": 100, "p50_seconds": 300, "p90_seconds": 300,
        "within_target": within, "never_closed": 1, "lump_closed": 0, "doubtful": false });
    assert_eq!(rows[0]["tickets"], tickets);
    let dinner = json!([{ "daypart": "dinner", "channel": "counter", "units": 150,
        "sales": "1500.00", "tickets": tickets,
        "share_of_sales": rate("100.00", 100, "1500.00", "1500.00", 8),
        "share_of_orders": rate("100.00", 100, "101", "101", 9) }]);
    assert_eq!(rows[0]["dayparts"], dinner);
    let mill = &rows[2]["tickets"];
    expect(
        mill,
        &[
            ("/p90_seconds", Value::Null),
            ("/doubtful", json!(true)),
            ("/within_target/value", json!("0.00")),
        ],
    );
}

/// Samples of 1 June speak for the week: four portions 2 % over, of 288 kg expected: 5.76 kg.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn portions_of_earlier_nights_are_pooled() {
    let scene = Scene::set().await;
    let portions = json!({ "item_id": "potato", "samples": 4, "sample_sum": 4 * 1_020_000,
        "sample_squares": 4 * 1_020_000_i64.pow(2) });
    scene.tally("item_days", "ford", 1, portions).await;
    let rows = scene.rows(owner("brook"), "scope=owner:brook&children=true").await;
    for row in &rows {
        expect(
            item(row, "potato"),
            &[
                (
                    "/variance/causes/over_portioning",
                    json!({ "value": "5.76", "unit": "kg", "sd": "0" }),
                ),
                // 12 − 0 − 0 − 5.76: the spans themselves have no waste in them here.
                (
                    "/variance/causes/unexplained",
                    json!({ "value": "6.24", "unit": "kg", "sd": "2.828" }),
                ),
            ],
        );
    }
    // A night by itself has those of the 28 nights that end with it.
    let query = format!("scope=store:ford&by=day&from={}&to={}", day(28), day(29));
    scene
        .tally(
            "item_spans",
            "ford",
            28,
            json!({ "item_id": "potato", "opened_on": day(27),
        "nights": 1, "used": 1000, "expected": 1000 }),
        )
        .await;
    scene
        .tally(
            "item_spans",
            "ford",
            29,
            json!({ "item_id": "potato", "opened_on": day(28),
        "nights": 1, "used": 1000, "expected": 1000 }),
        )
        .await;
    let rows = scene.ask(Role::Office, &query).await.json["rows"].clone();
    let told: Vec<_> = [0, 1]
        .map(|n| item(&rows[n], "potato")["variance"]["causes"].get("over_portioning").is_some())
        .into();
    assert_eq!(told, [true, false]);
}

/// Invariant 6. Monday is closed, Friday is missing, the 15th is not over; none of them is a zero.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn blank_is_not_zero_closed_is_not_zero_missing_is_not_zero() {
    let scene = Scene::set().await;
    let query = format!("scope=store:ford&by=day&from={}&to={}", day(8), day(16));
    let reply = scene.ask(manager("ford"), &query).await;
    let rows = reply.expect(200).json["rows"].as_array().expect("rows").clone();
    assert_eq!(rows.len(), 9);
    let by_day = |n: u32| &rows[usize::try_from(n - 8).expect("a place")];
    let (closed, missing, ahead) = (by_day(8), by_day(12), by_day(15));
    expect(closed, &[("/nights", nights([0, 0, 0, 0, 1, 0])), ("/money", Value::Null)]);
    expect(closed, &[("/sales", Value::Null), ("/items", Value::Null)]);
    // Friday was sold and thrown away, and nobody counted.
    expect(missing, &[("/nights", nights([1, 0, 0, 1, 0, 0])), ("/sales/nights", json!(1))]);
    expect(missing, &[("/money/used", Value::Null), ("/money/variance", Value::Null)]);
    expect(item(missing, "potato"), &[("/used", Value::Null), ("/variance", Value::Null)]);
    // The 15th is a Monday, the 16th is to come: it is in none of the other numbers.
    expect(ahead, &[("/nights", nights([0; 6])), ("/money", Value::Null)]);
    expect(by_day(16), &[("/nights/to_come", json!(1)), ("/nights/expected", json!(0))]);
    let complete = [9, 12, 16].map(|n| by_day(n)["complete"].clone());
    assert_eq!(complete, [true, false, false]);
    // Saturday's span has both nights.
    expect(
        item(by_day(13), "potato"),
        &[("/used/nights", json!(2)), ("/used/cost", json!("100.00"))],
    );

    // By week, Sunday 7 June alone and the week after it; a span is in the week that it closed in.
    let query = format!("scope=store:ford&by=week&from={}&to={}", day(7), day(14));
    let rows = scene.ask(manager("ford"), &query).await.json["rows"].clone();
    expect(&rows[0], &[("/from", json!(day(7))), ("/to", json!(day(7))), ("/items", Value::Null)]);
    expect(&rows[1], &[("/from", json!(day(8))), ("/to", json!(day(14)))]);
    expect(item(&rows[1], "oil"), &[("/used/nights", json!(6))]);

    // By period: months, unless the network says otherwise, cut to the span.
    let query = format!("scope=store:ford&by=period&from=2026-05-20&to={}", day(14));
    let rows = scene.ask(manager("ford"), &query).await.json["rows"].clone();
    let whole = scene.ask(manager("ford"), &query.replace("&by=period", "")).await;
    expect(&rows[0], &[("/from", json!("2026-05-20")), ("/to", json!("2026-05-31"))]);
    expect(&rows[0], &[("/items", Value::Null)]);
    expect(&rows[1], &[("/from", json!(day(1))), ("/to", json!(day(14)))]);
    expect(&rows[1], &[("/items", whole.json["rows"][0]["items"].clone())]);
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn each_role_sees_its_own_scopes() {
    let scene = Scene::set().await;
    for (role, scope, status) in [
        (coach("upper"), "district:upper", 200),
        (coach("upper"), "district:lower", 404),
        (coach("upper"), "region:valley", 404),
        (coach("upper"), "store:ford", 200),
        (coach("upper"), "store:mill", 200),
        (coach("upper"), "store:weir", 404),
        (coach("upper"), "owner:brook", 404),
        (coach("upper"), "network", 403),
        (manager("ford"), "store:ford", 200),
        (manager("ford"), "store:weir", 404),
        (manager("ford"), "district:upper", 404),
        (manager("ford"), "network", 403),
        (owner("brook"), "owner:brook", 200),
        (owner("brook"), "owner:hill", 404),
        (owner("brook"), "store:mill", 404),
        (crew("ford"), "store:ford", 403),
        (Role::Till(vec!["ford".parse().expect("a code")]), "store:ford", 403),
        (Role::Office, "network", 200),
        (Role::Office, "region:coast", 200),
        (Role::Office, "district:nowhere", 404),
        (Role::Office, "store:nowhere", 404),
    ] {
        let word = role.word();
        let query = format!("scope={scope}&from={}&to={}", day(8), day(14));
        let reply = scene.ask(role, &query).await;
        assert_eq!(reply.status, status, "{word} {scope}: {}", reply.text);
        if status != 200 {
            reply.expect_problem(status, if status == 403 { "forbidden" } else { "not-found" });
        }
    }
    // Of mill, either coach sees the nights in their own district and no more.
    for (district, nights, used) in [("upper", 3, "90"), ("lower", 4, "120")] {
        let rows = scene.rows(coach(district), "scope=store:mill").await;
        expect(&rows[0], &[("/nights/expected", json!(nights))]);
        expect(item(&rows[0], "potato"), &[("/used/amount/value", json!(used))]);
    }
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn what_cannot_be_answered_says_why() {
    let scene = Scene::set().await;
    let week = format!("from={}&to={}", day(8), day(14));
    for bad in [
        "scope=network&from=2026-06-8&to=2026-06-14",
        "scope=network&from=2026-06-08",
        "scope=network&from=2026-06-08&to=2026-06-14&by=month",
        "scope=network&from=2026-06-08&to=2026-06-14&of=potato",
    ] {
        scene.ask(Role::Office, bad).await.expect_problem(400, "unreadable");
    }
    for (query, pointer) in [
        ("scope=district&from=2026-06-08&to=2026-06-14", "/scope"),
        ("scope=network:all&from=2026-06-08&to=2026-06-14", "/scope"),
        ("scope=store:Ford&from=2026-06-08&to=2026-06-14", "/scope"),
        ("scope=network&from=2026-06-14&to=2026-06-08", "/to"),
        ("scope=network&from=2025-06-14&to=2026-07-20", "/to"),
        ("scope=network&from=2026-04-01&to=2026-06-14&by=day", "/by"),
    ] {
        let reply = scene.ask(Role::Office, query).await;
        assert_eq!(reply.expect_problem(422, "invalid").pointers(), [pointer]);
    }
    scene.ask(Role::Office, &format!("scope=network&{week}&by=day")).await.expect(200);
}
