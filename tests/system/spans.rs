//! Usage from one count to the next, over HTTP: whatever comes late, restates, or comes in another
//! order.

use chrono::{DateTime, TimeDelta, Utc};
use parings::cluster::SUPERUSER;
use parings::cluster::roles::OWNER;
use parings::db::migrate;
use parings_core::access::Role;
use parings_tests::house::{House, Person};
use parings_tests::night::{
    amend, count, delivery, entry, feed, line, night, of_item, receipt, record, role, submit,
    typed, with, withdraw,
};
use parings_tests::{house, network};
use serde_json::{Value, json};

/// Potatoes in one place, so that a count is one line; salt, counted on Tuesdays.
struct Store {
    house: House,
    office: Person,
    manager: Person,
    till: Person,
}

impl Store {
    /// Opens on Thursday 25 June 2026, so that every night of the tests has begun.
    async fn open() -> Self {
        let house = house().await;
        let office = house.person(Role::Office).await;
        network::start(&house, &office.token).await;
        house.clock.set(house.clock.now() + TimeDelta::days(10));
        let shelves = json!([{ "place": "dry-store", "unit": "kg" }]);
        let store = Self {
            manager: house.person(role(Role::Manager, "ford")).await,
            till: house.person(role(Role::Till, "ford")).await,
            house,
            office,
        };
        let potato = with(network::potato(), "shelves", shelves.clone());
        store.change("items", "potato", "2026-06-02", potato).await;
        let weekly = json!({ "title": "Salt", "group": "food", "base": "mass",
            "rhythm": { "every": "week", "on": "tue" }, "shelves": shelves });
        network::put(&store.house, &store.office.token, "items", "salt", weekly).await;
        store.recipe("2026-06-03", "200").await;
        let price = json!({ "price": "0.90", "per": typed("1", "kg") });
        network::put(&store.house, &store.office.token, "prices", "potato", price).await;
        store
    }

    async fn change(&self, kind: &str, code: &str, from: &str, document: Value) {
        let path = format!("/v1/reference/{kind}/{code}");
        let body = with(network::change(from, document), "reason", "For the test");
        let (any, token) = (("If-Match", "*"), Some(self.office.token.as_str()));
        self.house.put(&path, token, &[any], &body).await.expect(200);
    }

    async fn recipe(&self, from: &str, grams: &str) {
        let size = json!({ "code": "one", "title": "One size", "till_codes": ["1001"], "lines": [
            { "item": "potato", "quantity": typed(grams, "g") },
            { "item": "salt", "quantity": typed("10", "g") },
        ] });
        self.change("products", "fries", from, json!({ "title": "Fries", "sizes": [size] })).await;
    }

    fn lines(kg: &str) -> Vec<Value> {
        vec![line("potato", "dry-store", kg, "kg")]
    }

    /// A count of potatoes alone.
    async fn counted(&self, date: &str, kg: &str) -> Value {
        let body = with(count(&Self::lines(kg)), "complete", false);
        submit(&self.house, &self.manager, &night("ford", date), &body).await
    }

    async fn sold(&self, date: &str, units: u32) {
        let sales = [("1001", units, "100.00")];
        feed(&self.house, &self.till, "ford", date, &sales).await.expect(201);
    }

    async fn delivered(&self, date: &str, kg: &str) {
        let entries = [delivery(kg, "kg")];
        record(&self.house, &self.manager, "ford", date, &entries).await.expect(201);
    }

    async fn receipt(&self, date: &str) -> Value {
        receipt(&self.house, &self.manager, &night("ford", date)).await
    }

    async fn potato(&self, date: &str) -> Value {
        of_item(&self.receipt(date).await, "potato").clone()
    }
}

/// What a span says: since, nights, used, expected, variance.
fn said(item: &Value) -> String {
    let usage = &item["usage"];
    let text = |value: &Value| value.as_str().map_or_else(|| value.to_string(), str::to_owned);
    let figures = [
        &usage["since"],
        &usage["nights"],
        &usage["used"]["value"],
        &usage["expected"]["value"],
        &usage["variance"]["total"]["amount"]["value"],
    ];
    figures.map(text).join(" ")
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_missing_night_is_bridged_and_filled_in_later() {
    let store = Store::open().await;
    for (date, units) in [("2026-06-16", 50), ("2026-06-17", 60)] {
        store.sold(date, units).await;
    }
    let first = store.counted("2026-06-15", "40").await;
    assert_eq!(of_item(&first, "potato")["known"], "baseline");
    store.delivered("2026-06-16", "30").await;
    // Nobody counted on the 16th: 40 + 30 − 45 over two nights, against 110 × 0.2.
    let wednesday = store.counted("2026-06-17", "45").await;
    assert_eq!(said(of_item(&wednesday, "potato")), "2026-06-15 2 25 22 3");
    assert_eq!(store.potato("2026-06-16").await["known"], "not_counted");

    // Filled in: 40 + 30 − 58 = 12 against 10; then 58 − 45 = 13 against 12.
    let tuesday = store.counted("2026-06-16", "58").await;
    assert_eq!(said(of_item(&tuesday, "potato")), "2026-06-15 1 12 10 2");
    let restated = store.potato("2026-06-17").await;
    assert_eq!(said(&restated), "2026-06-16 1 13 12 1");
    assert!(restated["usage"]["restated_at"].is_string());
    let path = "/v1/rollups?scope=store:ford&from=2026-06-08&to=2026-06-21";
    let rollup = store.house.get(path, Some(&store.office.token)).await.expect(200).json.clone();
    assert_eq!(rollup["rows"][0]["restated_spans"], 1);
    assert_eq!(of_item(&rollup["rows"][0], "potato")["restated_spans"], 1);
    assert!(tuesday["items"][0]["usage"].get("restated_at").is_none());

    // Taken out of the count again: the span is whole as before.
    let none = with(count(&[]), "complete", false);
    amend(&store.house, &store.manager, &night("ford", "2026-06-16"), &none).await;
    assert_eq!(said(&store.potato("2026-06-17").await), "2026-06-15 2 25 22 3");
    assert!(store.potato("2026-06-16").await.get("usage").is_none());
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_count_before_the_first_makes_that_one_a_comparison() {
    let store = Store::open().await;
    store.sold("2026-06-17", 10).await;
    store.counted("2026-06-17", "40").await;
    assert_eq!(store.potato("2026-06-17").await["known"], "baseline");
    store.counted("2026-06-16", "43").await;
    assert_eq!(said(&store.potato("2026-06-17").await), "2026-06-16 1 3 2 1");
    assert_eq!(store.potato("2026-06-16").await["known"], "baseline");
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_closed_day_needs_no_sales_and_is_no_night() {
    let store = Store::open().await;
    // Saturday and Monday; the Sunday between is closed, and a delivery came on it all the same.
    store.sold("2026-06-22", 100).await;
    store.counted("2026-06-20", "40").await;
    store.delivered("2026-06-21", "5").await;
    let monday = store.counted("2026-06-22", "24").await;
    assert_eq!(said(of_item(&monday, "potato")), "2026-06-20 1 21 20 1");
    let sunday = store.receipt("2026-06-21").await;
    assert_eq!((&sunday["items_due"], sunday.get("count")), (&json!(0), None));
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_weekly_item_spans_its_week_whatever_happens_to_the_nights_in_it() {
    let store = Store::open().await;
    let salt = |date: &'static str, kg: &'static str| {
        let lines = [Store::lines("10"), vec![line("salt", "dry-store", kg, "kg")]].concat();
        let (path, body) = (night("ford", date), count(&lines));
        let (house, manager) = (&store.house, &store.manager);
        async move { submit(house, manager, &path, &body).await }
    };
    salt("2026-06-16", "8").await;
    for date in ["2026-06-17", "2026-06-18", "2026-06-20", "2026-06-22", "2026-06-23"] {
        store.sold(date, 100).await;
    }
    // The 19th is missing altogether: no count, no sales.
    store.counted("2026-06-18", "10").await;
    let tuesday = salt("2026-06-23", "2").await;
    let pending = of_item(&tuesday, "salt");
    assert_eq!(pending["known"], "pending");
    assert_eq!(said(pending), "2026-06-16 6 6 null null");
    store.sold("2026-06-19", 50).await;
    let found = store.receipt("2026-06-23").await;
    assert_eq!(said(of_item(&found, "salt")), "2026-06-16 6 6 5.5 0.5");
    // A first answer is no restatement.
    assert!(of_item(&found, "salt")["usage"].get("restated_at").is_none());
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_late_delivery_restates_and_its_withdrawal_restores() {
    let store = Store::open().await;
    store.sold("2026-06-16", 50).await;
    store.counted("2026-06-15", "40").await;
    let first = store.counted("2026-06-16", "55").await;
    // Less than nothing: somebody forgot to write a delivery down.
    assert_eq!(said(of_item(&first, "potato")), "2026-06-15 1 -15 10 -25");
    store.house.clock.set(store.house.clock.now() + TimeDelta::hours(3));
    let late = delivery("26", "kg");
    let entries = std::slice::from_ref(&late);
    record(&store.house, &store.manager, "ford", "2026-06-16", entries).await.expect(201);
    let potato = store.potato("2026-06-16").await;
    assert_eq!(said(&potato), "2026-06-15 1 11 10 1");
    let restated: DateTime<Utc> =
        potato["usage"]["restated_at"].as_str().expect("a moment").parse().expect("RFC 3339");
    assert_eq!(restated, store.house.clock.now());
    withdraw(&store.house, &store.manager, "ford", &late).await.expect(200);
    assert_eq!(said(&store.potato("2026-06-16").await), "2026-06-15 1 -15 10 -25");
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn expected_use_is_pending_until_sales_come_and_a_feed_outranks_what_was_typed() {
    let store = Store::open().await;
    store.counted("2026-06-15", "40").await;
    let first = store.counted("2026-06-16", "29").await;
    assert_eq!(said(of_item(&first, "potato")), "2026-06-15 1 11 null null");
    assert_eq!(first["sales_from"], "none");
    assert!(first.get("sales").is_none() && first.get("units").is_none());

    let sold = json!([{ "product": "fries", "size": "one", "units": 40 }]);
    let typed = with(with(count(&Store::lines("29")), "complete", false), "units_sold", sold);
    let typed = with(typed, "net_sales", "90.00");
    let path = night("ford", "2026-06-16");
    let second = amend(&store.house, &store.manager, &path, &typed).await;
    assert_eq!(second["sales_from"], "typed");
    assert_eq!((&second["sales"], &second["units"]), (&json!("90.00"), &json!(40)));
    assert_eq!(said(of_item(&second, "potato")), "2026-06-15 1 11 8 3");

    store.sold("2026-06-16", 50).await;
    let third = store.receipt("2026-06-16").await;
    assert_eq!(third["sales_from"], "feed");
    assert_eq!((&third["sales"], &third["units"]), (&json!("100.00"), &json!(50)));
    assert_eq!(said(of_item(&third, "potato")), "2026-06-15 1 11 10 1");
    // What was typed stays on record.
    assert_eq!(third["count"]["revision"], 2);
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_change_of_recipe_or_price_within_a_span_counts_from_its_night_on() {
    let store = Store::open().await;
    store.recipe("2026-06-17", "250").await;
    let dearer = json!({ "price": "1.00", "per": typed("1", "kg") });
    store.change("prices", "potato", "2026-06-18", dearer).await;
    store.counted("2026-06-15", "100").await;
    for date in ["2026-06-16", "2026-06-17", "2026-06-18"] {
        store.sold(date, 100).await;
    }
    let found = store.counted("2026-06-18", "25").await;
    // 20 + 25 + 25 kg; 20 and 25 at 0.90, the last 25 and the variance of 5 at 1.00.
    let potato = of_item(&found, "potato");
    assert_eq!(said(potato), "2026-06-15 3 75 70 5");
    assert_eq!(potato["usage"]["variance"]["total"]["cost"], "5.00");
    assert_eq!(potato["usage"]["used_cost"], "70.50");
}

/// Clocks change on 29 March and 25 October 2026 in Berlin, on 8 March and 1 November in New York,
/// at 02:00 or 03:00, before the business day turns (IANA time zone database, from memory).
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn nights_of_23_and_25_hours_are_one_night_each() {
    let at = |text: &str| text.parse::<DateTime<Utc>>().expect(text);
    let house = house().await;
    let office = house.person(Role::Office).await;
    house.clock.set(at("2026-01-10T12:00:00Z"));
    let owner = house.database.url(OWNER);
    migrate::make_partitions(&owner, at("2026-11-01T00:00:00Z").date_naive(), 9)
        .await
        .expect("room");
    network::start(&house, &office.token).await;
    let mut york = network::store("York", "upper", "brook");
    york["zone"] = json!("America/New_York");
    york["open"] = json!(["mon", "tue", "wed", "thu", "fri", "sat", "sun"]);
    network::put(&house, &office.token, "stores", "york", york).await;
    let berlin =
        with(network::store("Spree", "upper", "brook"), "open", json!(["sat", "sun", "mon"]));
    network::put(&house, &office.token, "stores", "spree", berlin).await;
    // The last second of the Saturday's business day, and the first of the Sunday's, in UTC.
    for (store, saturday, sunday, last, first) in [
        ("spree", "2026-03-28", "2026-03-29", "2026-03-29T02:59:59Z", "2026-03-29T03:00:00Z"),
        ("spree", "2026-10-24", "2026-10-25", "2026-10-25T03:59:59Z", "2026-10-25T04:00:00Z"),
        ("york", "2026-03-07", "2026-03-08", "2026-03-08T08:59:59Z", "2026-03-08T09:00:00Z"),
        ("york", "2026-10-31", "2026-11-01", "2026-11-01T09:59:59Z", "2026-11-01T10:00:00Z"),
    ] {
        house.clock.set(at(last));
        let line = |kg| count(&[line("potato", "dry-store", kg, "kg")]);
        let early = with(line("30"), "complete", false);
        let path = night(store, sunday);
        let refused = house.put(&path, Some(&office.token), &[network::CREATE], &early).await;
        refused.expect_problem(422, "invalid");
        assert_eq!(refused.pointers(), ["/business_date"], "{store} {sunday}");
        let out = json!({ "from": format!("{saturday}T18:00:00Z") });
        let entries = [delivery("1", "kg"), entry("stock_out", "potato", out)];
        record(&house, &office, store, saturday, &entries).await.expect(201);
        house.clock.set(at(first));
        submit(&house, &office, &path, &early).await;
        // Out from 18:00 UTC to the end of the business day, whatever the clocks did.
        let minutes = (at(first) - at(&format!("{saturday}T18:00:00Z"))).num_minutes();
        let found = receipt(&house, &office, &night(store, saturday)).await;
        assert_eq!(of_item(&found, "potato")["stock_out_minutes"], minutes, "{store} {saturday}");
    }
    let rows = "SELECT count(*) FROM night_tallies WHERE counted";
    let nights: i64 = house.pg(SUPERUSER).await.query_one(rows, &[]).await.expect("rows").get(0);
    assert_eq!(nights, 4);
}
