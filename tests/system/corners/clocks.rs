//! Nights on which clocks change, and counts sent before and after the cut-off.
//!
//! Clocks change at 02:00 local standard time in Berlin, to 03:00 on 29 March 2026 and from 03:00
//! back on 25 October; in New York at 02:00, to 03:00 on 8 March and back to 01:00 on 1 November
//! (IANA time zone database, as in the crate chrono-tz: Europe/Berlin and America/New_York). All of
//! it is before the cut-off of 05:00, so it falls in the business day of the Saturday.

use chrono::TimeDelta;
use parings_core::access::Role;
use parings_tests::network::{self, CREATE};
use parings_tests::night::{count, entry, line, night, of_item, with};
use serde_json::{Value, json};

use super::{Kitchen, moment, nights, rolled, said, words};

/// A Saturday whose clocks change. Instants are in UTC.
struct Change {
    store: &'static str,
    zone: &'static str,
    /// Friday, Saturday, Sunday.
    dates: [&'static str; 3],
    /// When the first ticket is placed.
    placed: &'static str,
    /// How many minutes each takes.
    minutes: i64,
    /// That as a percentile: the longest time of its bin, which from 15 minutes on is 5 s wide.
    seconds: u32,
    /// The daypart that the tickets are placed in.
    placed_in: &'static str,
    /// Two sales, local before and local after.
    sales: [&'static str; 2],
    /// Units of each in the dayparts late (21:00 to 02:00) and small (02:00 to 05:00).
    units: [u64; 2],
    /// Out of potatoes from 01:00 to 04:00 local.
    out: [&'static str; 2],
    /// Minutes of that in late and small.
    out_minutes: [u64; 2],
}

/// Placed 01:50 local and handed off 03:10: 20 minutes. Out from 01:00 to 04:00: two hours, of
/// which one before the change.
const SPRING_BERLIN: Change = Change {
    store: "spree",
    zone: "Europe/Berlin",
    dates: ["2026-03-27", "2026-03-28", "2026-03-29"],
    placed: "2026-03-29T00:50:00Z",
    minutes: 20,
    seconds: 1204,
    placed_in: "late",
    sales: ["2026-03-29T00:50:00Z", "2026-03-29T01:10:00Z"],
    units: [40, 60],
    out: ["2026-03-29T00:00:00Z", "2026-03-29T02:00:00Z"],
    out_minutes: [60, 60],
};

/// Placed 02:30 and handed off 02:10, when the hour comes again: 40 minutes. The hour that comes
/// twice is from 02:00, in small. Out from 01:00 to 04:00: four hours, of which three in small.
const AUTUMN_BERLIN: Change = Change {
    store: "spree",
    zone: "Europe/Berlin",
    dates: ["2026-10-23", "2026-10-24", "2026-10-25"],
    placed: "2026-10-25T00:30:00Z",
    minutes: 40,
    seconds: 2404,
    placed_in: "small",
    sales: ["2026-10-25T00:30:00Z", "2026-10-25T01:30:00Z"],
    units: [0, 100],
    out: ["2026-10-24T23:00:00Z", "2026-10-25T03:00:00Z"],
    out_minutes: [60, 180],
};

/// Placed 01:50 local and handed off 03:10: 20 minutes.
const SPRING_YORK: Change = Change {
    store: "york",
    zone: "America/New_York",
    dates: ["2026-03-06", "2026-03-07", "2026-03-08"],
    placed: "2026-03-08T06:50:00Z",
    minutes: 20,
    seconds: 1204,
    placed_in: "late",
    sales: ["2026-03-08T06:50:00Z", "2026-03-08T07:10:00Z"],
    units: [40, 60],
    out: ["2026-03-08T06:00:00Z", "2026-03-08T08:00:00Z"],
    out_minutes: [60, 60],
};

/// Placed 01:30 and handed off 01:10, when the hour comes again: 40 minutes. The hour that comes
/// twice is from 01:00, in late: two of the four hours without potatoes are in it.
const AUTUMN_YORK: Change = Change {
    store: "york",
    zone: "America/New_York",
    dates: ["2026-10-30", "2026-10-31", "2026-11-01"],
    placed: "2026-11-01T05:30:00Z",
    minutes: 40,
    seconds: 2404,
    placed_in: "late",
    sales: ["2026-11-01T05:30:00Z", "2026-11-01T06:30:00Z"],
    units: [100, 0],
    out: ["2026-11-01T05:00:00Z", "2026-11-01T09:00:00Z"],
    out_minutes: [120, 120],
};

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_spring_night_of_23_hours_in_berlin() {
    play(&SPRING_BERLIN).await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn an_autumn_night_of_25_hours_in_berlin() {
    play(&AUTUMN_BERLIN).await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_spring_night_of_23_hours_in_new_york() {
    play(&SPRING_YORK).await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn an_autumn_night_of_25_hours_in_new_york() {
    play(&AUTUMN_YORK).await;
}

/// Thirty tickets twenty seconds apart, each as long as the first.
fn tickets(change: &Change) -> Vec<Value> {
    let first = moment(change.placed);
    let ticket = |n: i32| {
        let placed = first + TimeDelta::seconds(20) * n;
        let handed_off = placed + TimeDelta::minutes(change.minutes);
        json!({ "id": format!("k-{n}"), "placed": placed, "handed_off": handed_off,
            "channel": "counter" })
    };
    (0..30).map(ticket).collect()
}

/// A figure of a daypart, added up over its channels.
fn of_daypart(of: &Value, daypart: &str, figure: &str) -> u64 {
    let all = of["dayparts"].as_array().into_iter().flatten();
    let here = all.filter(|d| d["daypart"] == daypart);
    here.filter_map(|d| d.pointer(figure).and_then(Value::as_u64)).sum()
}

#[track_caller]
fn expect_dayparts(of: &Value, change: &Change) {
    for (n, daypart) in ["late", "small"].into_iter().enumerate() {
        let found = ["/units", "/stock_out_minutes", "/tickets/timed"]
            .map(|figure| of_daypart(of, daypart, figure));
        let timed = if daypart == change.placed_in { 30 } else { 0 };
        assert_eq!(found, [change.units[n], change.out_minutes[n], timed], "{daypart}: {of:#}");
    }
}

async fn play(change: &Change) {
    let [friday, saturday, sunday] = change.dates;
    let kitchen = Kitchen::open("2026-02-01T12:00:00Z").await;
    let week = json!(["mon", "tue", "wed", "thu", "fri", "sat", "sun"]);
    let store = with(network::store("A store", "upper", "brook"), "open", week);
    kitchen.put("stores", change.store, with(store, "zone", change.zone)).await;
    let part = |code: &str, from: &str, to: &str| json!({ "code": code, "title": code, "hours": { "from": from, "to": to } });
    let dayparts = json!({ "stores": { "of": "all" }, "dayparts": [
        part("day", "05:00", "21:00"), part("late", "21:00", "02:00"),
        part("small", "02:00", "05:00"),
    ] });
    kitchen.change("dayparts", "all", "2026-01-02", dayparts).await.expect(200);
    kitchen.house.clock.set(moment(&format!("{sunday}T23:00:00Z")));

    kitchen.count(change.store, friday, "100").await;
    let sale = |at: &str, units: u64| {
        json!({ "code": "1001", "units": units, "net": "50.00", "when": { "at": at },
            "channel": "counter" })
    };
    let feed = json!({ "batch_id": "t1", "business_date": saturday, "tickets": tickets(change),
        "sales": [sale(change.sales[0], 40), sale(change.sales[1], 60)] });
    let path = format!("/v1/stores/{}/till-batches", change.store);
    kitchen.house.post(&path, Some(&kitchen.office.token), &feed).await.expect(201);
    let out = entry("stock_out", "potato", json!({ "from": change.out[0], "to": change.out[1] }));
    kitchen.record(change.store, saturday, &[out]).await;
    // 100 − 79 = 21 against 100 × 0.2; on Sunday 79 − 58.
    kitchen.count(change.store, saturday, "79").await;
    kitchen.sold(change.store, sunday, 100).await;
    kitchen.count(change.store, sunday, "58").await;

    let receipt = kitchen.receipt(change.store, saturday).await;
    let potato = of_item(&receipt, "potato");
    assert_eq!(said(potato), format!("compared {friday} 1 21 20 1 21.00"));
    let out: u64 = change.out_minutes.iter().sum();
    assert_eq!(potato["stock_out_minutes"], out);
    expect_dayparts(&receipt, change);
    // No ticket is doubted: none never closed, none in a lump.
    let expected = format!("30 30 {0} {0} 0 0 false", change.seconds);
    let plain =
        ["/orders", "/timed", "/p50_s", "/p90_s", "/never_closed", "/lump_closed", "/doubtful"];
    assert_eq!(words(&receipt["tickets"], &plain), expected);

    let row = kitchen.rollup(&format!("store:{}", change.store), saturday, sunday).await;
    assert_eq!(nights(&row), "2 2 0 0 0 0");
    assert_eq!(rolled(&row, "potato"), "42 2 42.00 40 2 2");
    assert_eq!(row["stock_out_minutes"], out);
    expect_dayparts(&row, change);
    let rolled = plain.map(|figure| figure.replace("_s", "_seconds"));
    assert_eq!(words(&row["tickets"], &rolled.each_ref().map(String::as_str)), expected);
}

/// Berlin is two hours ahead of UTC in June; the cut-off is 05:00. Common practice, no source: what
/// is counted after midnight is the night's before.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_count_at_00_40_and_one_at_05_10() {
    let kitchen = Kitchen::open("2026-06-15T22:40:00Z").await;
    let manager = kitchen.person(Role::Manager, "ford").await;
    let send = async |date: &str, kg: &str| {
        let body = count(&[line("potato", "dry-store", kg, "kg")]);
        let path = night("ford", date);
        kitchen.house.put(&path, Some(&manager.token), &[CREATE], &body).await
    };
    let not_begun = |reply: &parings_tests::Reply, date: &str, today: &str| {
        assert_eq!(reply.expect_problem(422, "invalid").pointers(), ["/business_date"]);
        let says = format!("{date} has not begun: the store's business date is {today}");
        assert_eq!(reply.json["errors"][0]["detail"], says);
    };
    kitchen.count("ford", "2026-06-13", "100").await;
    kitchen.sold("ford", "2026-06-15", 100).await;
    // 00:40 on Tuesday: it is still Monday's night, and Tuesday has not begun.
    not_begun(&send("2026-06-16", "79").await, "2026-06-16", "2026-06-15");
    send("2026-06-15", "79").await.expect(201);
    // Until the minute before the cut-off.
    kitchen.house.clock.set(moment("2026-06-16T02:59:59Z"));
    not_begun(&send("2026-06-16", "79").await, "2026-06-16", "2026-06-15");

    // 05:10 on Tuesday: Tuesday has begun, and Monday's count can still be amended.
    kitchen.house.clock.set(moment("2026-06-16T03:10:00Z"));
    not_begun(&send("2026-06-17", "69").await, "2026-06-17", "2026-06-16");
    let again = with(count(&[line("potato", "dry-store", "78", "kg")]), "reason", "Counted again");
    let path = night("ford", "2026-06-15");
    let amended = kitchen.house.put(&path, Some(&manager.token), &[("If-Match", "\"r1\"")], &again);
    let amended = amended.await.expect(200).json.clone();
    // 100 − 78 = 22 against 100 × 0.2.
    assert_eq!(said(of_item(&amended, "potato")), "compared 2026-06-13 1 22 20 2 22.00");
    kitchen.sold("ford", "2026-06-16", 50).await;
    send("2026-06-16", "68").await.expect(201);
    // 78 − 68 = 10 against 50 × 0.2.
    assert_eq!(
        kitchen.span("ford", "2026-06-16", "potato").await,
        "compared 2026-06-15 1 10 10 0 10.00"
    );
    let row = kitchen.rollup("store:ford", "2026-06-15", "2026-06-16").await;
    assert_eq!(
        (nights(&row), rolled(&row, "potato")),
        ("2 2 0 0 0 0".to_owned(), "32 2 32.00 30 2 2".to_owned())
    );
}
