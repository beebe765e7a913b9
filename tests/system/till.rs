//! The feed of tills over HTTP.

use parings::cluster::SUPERUSER;
use parings::edge::new_id;
use parings_core::access::Role;
use parings_tests::house::{House, Person};
use parings_tests::{Reply, house, network};
use serde_json::{Value, json};
use tokio_postgres::error::SqlState;

const BATCHES: &str = "/v1/stores/ford/till-batches";
const TODAY: &str = "2026-06-15";

/// A house with a network whose till sells fries (200 g trimmed, at a standard of 0.90) as 1001 and
/// extra fries (50 g trimmed) as 9.
async fn open() -> (House, Person, Person) {
    let house = house().await;
    let office = house.person(Role::Office).await;
    network::start(&house, &office.token).await;
    let line = |value: &str| {
        json!([{ "item": "potato", "stage": "trim",
            "quantity": { "value": value, "unit": "g" } }])
    };
    let fries = json!({ "title": "Big fries", "sizes": [{ "code": "one", "title": "One size",
        "till_codes": ["1001"], "lines": line("200") }] });
    network::put(&house, &office.token, "products", "big-fries", fries).await;
    let extra = json!({ "title": "Extra", "till_codes": ["9"], "lines": line("50") });
    network::put(&house, &office.token, "additions", "extra", extra).await;
    let till = house.person(role(Role::Till, "ford")).await;
    (house, office, till)
}

fn role<T: std::str::FromStr<Err: std::fmt::Debug>>(make: fn(Vec<T>) -> Role, at: &str) -> Role {
    make(vec![at.parse().expect(at)])
}

fn sale(code: &str, units: u32, outcome: &str) -> Value {
    json!({ "code": code, "units": units, "net": (units * 3).to_string(), "outcome": outcome,
        "when": { "at": "2026-06-15T16:15:00Z" }, "channel": "counter" })
}

fn batch(id: &str, sales: &[Value]) -> Value {
    json!({ "batch_id": id, "business_date": TODAY, "sales": sales })
}

async fn send(house: &House, by: &Person, body: &Value) -> Reply {
    house.post(BATCHES, Some(&by.token), body).await
}

async fn get(house: &House, by: &Person, path: &str) -> Reply {
    house.get(&format!("/v1/stores/ford/{path}"), Some(&by.token)).await
}

/// One number of the database.
async fn number(house: &House, sql: &str) -> i64 {
    house.pg(SUPERUSER).await.query_one(sql, &[]).await.expect(sql).get(0)
}

/// Thousandths of a gram of potatoes that today's sales should have used.
async fn potatoes_expected(house: &House) -> i64 {
    let sql = "SELECT coalesce(sum(expected), 0)::bigint FROM item_days
        WHERE business_date = '2026-06-15' AND store_id = 'ford' AND item_id = 'potato'";
    number(house, sql).await
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn voids_use_nothing_and_refunds_do() {
    let (house, _, till) = open().await;
    let mut with_extra = sale("1001", 3, "sold");
    with_extra["additions"] = json!([{ "code": "9", "units": 6 }]);
    let mut plain = sale("1001", 2, "sold");
    plain["leave_outs"] = json!(["potato"]);
    let sales = [
        with_extra,
        plain,
        sale("1001", 5, "voided_before_making"),
        sale("1001", 1, "refunded_after_making"),
        sale("1001", 2, "staff_meal"),
    ];
    let sent = send(&house, &till, &batch("t1-1", &sales)).await;
    let sent = &sent.expect(201).json;
    assert_eq!((&sent["sales"], &sent["tickets"]), (&json!(5), &json!(0)));
    assert_eq!(sent["unmapped"], json!([]));
    // (3 + 1 + 2) × 200 g and 6 × 50 g trimmed are 1500 g; at 0.90 that was 1666.667 g.
    assert_eq!(potatoes_expected(&house).await, 1_666_667);
    // Money of what was sold: 9 and 6, in ten-thousandths.
    assert_eq!(number(&house, "SELECT sales FROM night_tallies").await, 150_000);
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn codes_that_nobody_mapped_are_listed_and_their_units_kept() {
    let (house, office, till) = open().await;
    let mut odd = sale("777", 4, "sold");
    odd["additions"] = json!([{ "code": "778", "units": 2 }]);
    let sales = [odd, sale("777", 3, "voided_before_making"), sale("1001", 1, "sold")];
    let sent = send(&house, &till, &batch("t1-1", &sales)).await;
    let codes = json!([
        { "business_date": TODAY, "code": "777", "units": 4 },
        { "business_date": TODAY, "code": "778", "units": 2 },
    ]);
    assert_eq!(sent.expect(201).json["unmapped"], codes);
    send(&house, &till, &batch("t1-2", &[sale("777", 1, "sold")])).await.expect(201);
    let listed = get(&house, &office, "unmapped-codes?from=2026-06-09&to=2026-06-15").await;
    let all = &listed.expect(200).json["items"];
    assert_eq!(all[0], json!({ "business_date": TODAY, "code": "777", "units": 5 }));
    assert_eq!(all.as_array().map(Vec::len), Some(2));
    assert_eq!(number(&house, "SELECT unmapped_units FROM night_tallies").await, 7);
    let long = get(&house, &office, "unmapped-codes?from=2026-01-01&to=2026-06-15").await;
    long.expect_problem(422, "invalid");
    let reversed = get(&house, &office, "unmapped-codes?from=2026-06-15&to=2026-06-14").await;
    reversed.expect_problem(422, "invalid");
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_batch_sent_again_is_taken_once() {
    let (house, office, till) = open().await;
    let body = batch("t1-1", &[sale("1001", 9, "sold")]);
    let first = send(&house, &till, &body).await;
    house.clock.set(house.clock.now() + chrono::TimeDelta::minutes(1));
    let again = send(&house, &till, &body).await;
    assert_eq!(first.expect(201).json, again.expect(201).json);
    assert_eq!(number(&house, "SELECT count(*) FROM till_batches").await, 1);
    assert_eq!(potatoes_expected(&house).await, 2_000_000);

    let other = batch("t1-1", &[sale("1001", 8, "sold")]);
    let taken = send(&house, &till, &other).await;
    let said = taken.expect_problem(422, "id-taken").json["detail"].to_string();
    assert!(said.contains("t1-1"), "{said}");
    let mut yesterday = body.clone();
    yesterday["business_date"] = json!("2026-06-14");
    send(&house, &till, &yesterday).await.expect_problem(422, "id-taken");
    // Another sender cannot take the id over either.
    send(&house, &office, &body).await.expect_problem(422, "id-taken");
    send(&house, &till, &batch("t1-2", &[sale("1001", 9, "sold")])).await.expect(201);
    assert_eq!(potatoes_expected(&house).await, 4_000_000);
    let listed = get(&house, &office, &format!("till-batches?business_date={TODAY}")).await;
    let listed = listed.expect(200).json["items"].as_array().expect("items").clone();
    let ids: Vec<_> = listed.iter().map(|b| &b["batch_id"]).collect();
    assert_eq!(ids, ["t1-1", "t1-2"]);
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_line_or_ticket_sent_again_in_a_later_batch_replaces_the_earlier() {
    let (house, _, till) = open().await;
    let line = |units: u32| {
        let mut line = sale("1001", units, "sold");
        line["line"] = json!("n-7");
        line
    };
    let open_ticket = json!({ "id": "k-1", "placed": "2026-06-15T16:00:00Z" });
    let mut closed = open_ticket.clone();
    closed["handed_off"] = json!("2026-06-15T16:04:00Z");
    let mut first = batch("t1-1", &[line(9)]);
    first["tickets"] = json!([open_ticket]);
    let mut second = batch("t1-2", &[line(18)]);
    second["tickets"] = json!([closed]);
    send(&house, &till, &first).await.expect(201);
    assert_eq!(number(&house, "SELECT sum(never_closed)::bigint FROM daypart_tallies").await, 1);
    house.clock.set(house.clock.now() + chrono::TimeDelta::minutes(1));
    send(&house, &till, &second).await.expect(201);
    assert_eq!(potatoes_expected(&house).await, 4_000_000);
    assert_eq!(number(&house, "SELECT sum(never_closed)::bigint FROM daypart_tallies").await, 0);
    assert_eq!(number(&house, "SELECT sum(orders)::bigint FROM daypart_tallies").await, 1);
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn every_fault_of_a_batch_is_told() {
    let (house, _, till) = open().await;
    let mut sales = [sale("", 1, "sold"), sale("1001", 100_001, "sold"), sale("1001", 1, "sold")];
    sales[2]["net"] = json!("12.34567");
    sales[2]["channel"] = json!("Drive");
    sales[2]["when"] = json!({ "at": "noon" });
    let mut body = batch("t1-1", &sales);
    body["tickets"] = json!([{ "id": "k\u{7}", "placed": "2026-06-15T16:00:00Z" }]);
    let refused = send(&house, &till, &body).await;
    refused.expect_problem(422, "invalid");
    let mut pointers = refused.pointers();
    pointers.sort_unstable();
    let expected = [
        "/sales/0/code",
        "/sales/1/units",
        "/sales/2/channel",
        "/sales/2/net",
        "/sales/2/when/at",
        "/tickets/0/id",
    ];
    assert_eq!(pointers, expected);

    let mut sales = [sale("1001", 1, "sold"), sale("1001", 1, "sold"), sale("1001", 1, "sold")];
    sales[0]["channel"] = json!("drive-up");
    sales[1]["net"] = json!("-3");
    sales[2]["when"] = json!({ "daypart": "elevenses" });
    let mut body = batch("t1-1", &sales);
    body["tickets"] = json!([{ "id": "k", "placed": "2026-06-15T16:00:00Z",
        "handed_off": "2026-06-15T15:00:00Z" }]);
    let refused = send(&house, &till, &body).await;
    refused.expect_problem(422, "invalid");
    let expected = ["/sales/0/channel", "/sales/1/net", "/sales/2/when/daypart", "/tickets/0"];
    assert_eq!(refused.pointers(), expected);

    let mut many = batch("t1-1", &[]);
    many["sales"] = (0..2001).map(|_| sale("1001", 1, "sold")).collect();
    assert_eq!(send(&house, &till, &many).await.expect(422).pointers(), ["/sales"]);
    let mut early = batch("t1-1", &[sale("1001", 1, "sold")]);
    early["business_date"] = json!("2026-06-16");
    assert_eq!(send(&house, &till, &early).await.expect(422).pointers(), ["/business_date"]);
    let long = batch(&"x".repeat(65), &[]);
    assert_eq!(send(&house, &till, &long).await.expect(422).pointers(), ["/batch_id"]);
    assert_eq!(number(&house, "SELECT count(*) FROM till_batches").await, 0);
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn tills_feed_their_own_stores_and_do_nothing_else() {
    let (house, _, till) = open().await;
    for (role, feeds, reads) in [
        (role(Role::Till, "ford"), 201, 200),
        (Role::Office, 201, 200),
        (role(Role::Manager, "ford"), 403, 200),
        (role(Role::Coach, "upper"), 403, 200),
        (role(Role::Owner, "brook"), 403, 200),
        (role(Role::Crew, "ford"), 403, 403),
        (role(Role::Till, "weir"), 404, 404),
        (role(Role::Manager, "weir"), 404, 404),
        (role(Role::Coach, "lower"), 404, 404),
        (role(Role::Owner, "hill"), 404, 404),
    ] {
        let what = format!("{role:?}");
        let person = house.person(role).await;
        let body = batch(&new_id().to_string(), &[sale("1001", 1, "sold")]);
        let sent = send(&house, &person, &body).await;
        assert_eq!(sent.status, feeds, "{what}: {}", sent.text);
        for path in [
            "till-batches?business_date=2026-06-15",
            "unmapped-codes?from=2026-06-14&to=2026-06-15",
        ] {
            let read = get(&house, &person, path).await;
            assert_eq!(read.status, reads, "{what}, {path}: {}", read.text);
        }
    }
    get(&house, &till, "entries?business_date=2026-06-15").await.expect_problem(403, "forbidden");
    get(&house, &till, "nights/2026-06-15/sheet").await.expect_problem(403, "forbidden");
    house.get("/v1/people", Some(&till.token)).await.expect_problem(403, "forbidden");
}

/// What the database says to somebody who gets past the server.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn the_database_keeps_the_feed_of_a_store_from_others() {
    let (house, _, till) = open().await;
    send(&house, &till, &batch("t1-1", &[sale("1001", 1, "sold")])).await.expect(201);
    let app = house.pg("parings_app").await;
    for (who, sees) in [
        (role(Role::Manager, "weir"), 0),
        (role(Role::Till, "weir"), 0),
        (role(Role::Crew, "ford"), 0),
        (role(Role::Manager, "ford"), 1),
    ] {
        let what = format!("{who:?}");
        let person = house.person(who).await;
        app.batch_execute("BEGIN").await.expect("begin");
        app.query("SELECT act_as($1)", &[&person.id.0]).await.expect("acting");
        let seen = app.query("SELECT batch_id FROM till_batches", &[]).await.expect("rows");
        assert_eq!(seen.len(), sees, "{what}");
        let add = "INSERT INTO till_batches (business_date, store_id, batch_id, body, district_id,
              region_id, owner_id, sent_by, recorded_at, write_id)
            VALUES ('2026-06-15', 'ford', 'x', '{}', 'upper', 'valley', 'brook', $1, now(), $1)";
        let refused = app.execute(add, &[&person.id.0]).await.expect_err(&what);
        assert_eq!(refused.code(), Some(&SqlState::INSUFFICIENT_PRIVILEGE), "{what}");
        app.batch_execute("ROLLBACK").await.expect("rollback");
    }
}
