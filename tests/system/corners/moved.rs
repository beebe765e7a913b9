//! A store that moves to another district, and one that is sold, in the middle of a week: it takes
//! its future along and leaves its past.

use parings_core::access::Role;
use parings_tests::house::Person;
use parings_tests::network;
use parings_tests::night::{night, of_item};
use serde_json::{Value, json};

use super::{Kitchen, moment, nights, rolled, said};

/// From Wednesday 17 June on, ford stands in this district and belongs to this owner.
async fn from_wednesday(district: &str, owner: &str) -> Kitchen {
    let kitchen = Kitchen::open("2026-06-15T10:00:00Z").await;
    let ford = network::store("Ford", district, owner);
    kitchen.change("stores", "ford", "2026-06-17", ford).await.expect(200);
    kitchen.house.clock.set(moment("2026-06-18T20:00:00Z"));
    kitchen
}

async fn sold_from_tuesday(kitchen: &Kitchen) {
    for date in ["2026-06-16", "2026-06-17", "2026-06-18"] {
        kitchen.sold("ford", date, 100).await;
    }
}

/// What somebody is answered who opens a night of ford.
async fn status(kitchen: &Kitchen, by: &Person, date: &str) -> u16 {
    kitchen.house.get(&night("ford", date), Some(&by.token)).await.status.as_u16()
}

#[track_caller]
fn expect(row: &Value, counted: &str, potato: &str) {
    assert_eq!(
        (nights(row).as_str(), rolled(row, "potato").as_str()),
        (counted, potato),
        "{row:#}"
    );
}

/// Counts of 100, 79, 57 and 34 kg: 21, 22 and 23 used against 20 a night. Upper has Tuesday, lower
/// has Wednesday and Thursday.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_store_that_moves_district_mid_week() {
    let kitchen = from_wednesday("lower", "brook").await;
    let old = kitchen.person(Role::Coach, "upper").await;
    let new = kitchen.person(Role::Coach, "lower").await;
    let owner = kitchen.person(Role::Owner, "brook").await;
    let manager = kitchen.person(Role::Manager, "ford").await;
    sold_from_tuesday(&kitchen).await;
    for (date, kg) in
        [("2026-06-15", "100"), ("2026-06-16", "79"), ("2026-06-17", "57"), ("2026-06-18", "34")]
    {
        kitchen.count("ford", date, kg).await;
    }
    for (date, seen) in [("2026-06-16", [200, 404]), ("2026-06-17", [404, 200])] {
        let found = [status(&kitchen, &old, date).await, status(&kitchen, &new, date).await];
        assert_eq!(found, seen, "{date}");
        // It belongs to the same owner and has the same manager.
        assert_eq!(status(&kitchen, &owner, date).await, 200);
        assert_eq!(status(&kitchen, &manager, date).await, 200);
    }
    let (from, to) = ("2026-06-16", "2026-06-18");
    let tuesday = ("1 1 0 0 0 0", "21 1 21.00 20 1 1");
    let rest = ("2 2 0 0 0 0", "45 2 45.00 40 5 2");
    for scope in ["district:upper", "store:ford"] {
        expect(&kitchen.rows(&old, scope, from, to).await[0], tuesday.0, tuesday.1);
    }
    expect(&kitchen.rows(&new, "store:ford", from, to).await[0], rest.0, rest.1);
    expect(&kitchen.rollup("region:valley", from, to).await, tuesday.0, tuesday.1);
    // Lower has weir too: two nights are over, and nobody counted them.
    expect(&kitchen.rows(&new, "district:lower", from, to).await[0], "4 2 0 2 0 0", rest.1);
    let whole = kitchen.rows(&owner, "owner:brook", from, to).await;
    expect(&whole[0], "3 3 0 0 0 0", "66 3 66.00 60 6 3");
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_store_that_is_sold_mid_week() {
    let kitchen = from_wednesday("upper", "hill").await;
    let old = kitchen.person(Role::Owner, "brook").await;
    let new = kitchen.person(Role::Owner, "hill").await;
    let coach = kitchen.person(Role::Coach, "upper").await;
    sold_from_tuesday(&kitchen).await;
    for (date, kg) in
        [("2026-06-15", "100"), ("2026-06-16", "79"), ("2026-06-17", "57"), ("2026-06-18", "34")]
    {
        kitchen.count("ford", date, kg).await;
    }
    for (date, seen) in [("2026-06-16", [200, 404]), ("2026-06-17", [404, 200])] {
        let found = [status(&kitchen, &old, date).await, status(&kitchen, &new, date).await];
        assert_eq!(found, seen, "{date}");
        assert_eq!(status(&kitchen, &coach, date).await, 200);
    }
    // The store's card is the new owner's; the old one may look at its past.
    let card = "/v1/stores/ford";
    kitchen.house.get(card, Some(&old.token)).await.expect_problem(404, "not-found");
    kitchen.house.get(card, Some(&new.token)).await.expect(200);
    let (from, to) = ("2026-06-16", "2026-06-18");
    let rows = kitchen.rows(&old, "owner:brook", from, to).await;
    expect(&rows[0], "1 1 0 0 0 0", "21 1 21.00 20 1 1");
    assert_eq!(rows[0]["sales"], json!({ "amount": "100.00", "nights": 1 }));
    let rows = kitchen.rows(&new, "store:ford", from, to).await;
    expect(&rows[0], "2 2 0 0 0 0", "45 2 45.00 40 5 2");
    assert_eq!(rows[0]["sales"], json!({ "amount": "200.00", "nights": 2 }));
    let rows = kitchen.rows(&coach, "store:ford", from, to).await;
    expect(&rows[0], "3 3 0 0 0 0", "66 3 66.00 60 6 3");
    assert_eq!(rows[0]["sales"], json!({ "amount": "300.00", "nights": 3 }));
}

/// Nobody counted on Tuesday, so that Wednesday's span begins with the former owner. What was used
/// is the new owner's to know; it is no one owner's use, so nobody holds it against sales.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_span_over_the_sale_of_a_store_tells_none_of_the_former_owners_sales() {
    let kitchen = from_wednesday("upper", "hill").await;
    let new = kitchen.person(Role::Owner, "hill").await;
    sold_from_tuesday(&kitchen).await;
    kitchen.count("ford", "2026-06-15", "100").await;
    kitchen.count("ford", "2026-06-17", "57").await;
    let path = night("ford", "2026-06-17");
    let receipt = kitchen.house.get(&path, Some(&new.token)).await.expect(200).json.clone();
    let potato = of_item(&receipt, "potato");
    assert_eq!(said(potato), "compared 2026-06-15 2 43 40 3 43.00");
    assert_eq!(receipt["sales"], "100.00");
    let variance = &potato["usage"]["variance"];
    assert!(variance["total"].is_object() && variance.get("of_sales").is_none(), "{variance:#}");
    let rows = kitchen.rows(&new, "store:ford", "2026-06-16", "2026-06-17").await;
    assert_eq!(rows[0]["sales"], json!({ "amount": "100.00", "nights": 1 }));
    let of_all = &rows[0]["money"]["variance"];
    let of_potato = &rows[0]["items"][0]["variance_cost"];
    for variance in [of_all, of_potato] {
        assert_eq!(variance["amount"]["value"], "3.00", "{:#}", rows[0]);
        assert!(variance.get("of_sales").is_none(), "{variance:#}");
    }
    // To head office, which sees the sales of both nights, no more is told of the span: one number.
    let row = kitchen.rollup("store:ford", "2026-06-16", "2026-06-17").await;
    assert_eq!(row["sales"], json!({ "amount": "200.00", "nights": 2 }));
    for variance in [&row["money"]["variance"], &row["items"][0]["variance_cost"]] {
        assert_eq!(variance["amount"]["value"], "3.00", "{row:#}");
        assert!(variance.get("of_sales").is_none(), "{variance:#}");
    }
    assert_eq!(row["items"][0]["owner_changed_spans"], 1);
    assert_eq!(row["money"].get("food_cost"), None);
    let seen = kitchen.receipt("ford", "2026-06-17").await;
    let variance = &of_item(&seen, "potato")["usage"]["variance"];
    assert!(variance.get("of_sales").is_none(), "{variance:#}");
}
