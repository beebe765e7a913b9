//! Files over HTTP.

use std::io::{BufRead, BufReader, Write};
use std::net::TcpStream;

use parings::cluster::SUPERUSER;
use parings_core::access::Role;
use parings_tests::house::House;
use parings_tests::network::put_limits;
use parings_tests::night::role;
use parings_tests::waiting::revisions;
use parings_tests::worked::{self, DATE, FIRST};
use parings_tests::{network, night};
use serde_json::{Value, json};

use super::scene::{open, rows, send, send_as};
use crate::verify::verify;

const CSV: &str = "text/csv";
const NDJSON: &str = "application/x-ndjson; charset=utf-8";

/// The nights of the worked example (invented).
const NIGHTS: &str = "\
store,business_date,row,complete,net_sales,item,place,stage,quantity,unit
ford,2026-06-15,night,yes,,,,,,
ford,2026-06-15,count,,,potato,dry-store,,90.0,kg
ford,2026-06-15,count,,,potato,cold-room,chill,39.1,kg
ford,2026-06-16,night,yes,,,,,,
ford,2026-06-16,count,,,potato,dry-store,,3,bag
ford,2026-06-16,count,,,potato,dry-store,,22.66,kg
ford,2026-06-16,count,,,potato,cold-room,chill,27.5,kg
";

const ENTRIES: &str = "\
store;business_date;kind;item;stage;quantity;unit;reason;other_store;steps;product;size;weights\r
ford;2026-06-16;delivery;potato;;10;bag;;;;;;\r
ford;2026-06-16;transfer_in;potato;;22,7;kg;;weir;;;;\r
ford;2026-06-16;waste;potato;;1,5;kg;spoiled-on-receipt;;;;;\r
ford;2026-06-16;waste;potato;chill;4,3;kg;expired;;;;;\r
ford;2026-06-16;waste;potato;finish;1,1;kg;held-too-long;;;;;\r
ford;2026-06-16;batch;potato;;272,2;kg;;;chill=180,8 kg;;;\r
";

const SALES: &str = "\
store,business_date,code,units,net
ford,2026-06-16,f100,90,405.00
ford,2026-06-16,f150,211,1371.50
ford,2026-06-16,f200,318,2788.50
ford,2026-06-16,f300,26,272.50
";

async fn count(house: &House, sql: &str) -> i64 {
    house.pg(SUPERUSER).await.query_one(sql, &[]).await.expect("a count").get(0)
}

/// PostgreSQL keeps every character in its texts but U+0000 (its documentation of character types, from
/// memory).
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn the_character_that_no_text_keeps_is_refused_in_a_file() {
    let (house, office) = open().await;
    let csv = SALES.replace("f150", "f\x001");
    let sold = r#"{"store": "ford", "business_date": "2026-06-16", "code": "f\u0000", "units": 1}"#;
    for (media, file, line) in [(CSV, csv.as_str(), 3), (NDJSON, sold, 1)] {
        let refused = send(&house, &office, "?name=sales&kind=sales", media, file).await;
        refused.expect_problem(422, "bad-rows");
        assert_eq!(refused.json["rows"][0]["line"], line, "{}", refused.text);
        assert!(refused.text.contains("U+0000"), "{}", refused.text);
    }
}

/// The invented worked example twice: sent by the people of the store as it happened, which
/// `worked` compares with figures worked out by hand, and brought in from files.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_history_from_files_gives_the_figures_of_the_same_facts_sent_one_by_one() {
    let (house, office) = open().await;
    let sent = send(&house, &office, "?name=nights.csv", CSV, NIGHTS).await;
    sent.expect(201);
    assert_eq!(sent.json["outcome"], "imported");
    let file = &sent.json["file"];
    assert_eq!(
        (&file["rows"], &file["nights"], &file["stores"]),
        (&7.into(), &2.into(), &1.into())
    );
    assert_eq!((&file["first_date"], &file["last_date"]), (&json!(FIRST), &json!(DATE)));
    assert_eq!(file["imported_by"], office.id.0.to_string());
    send(&house, &office, "?dialect=semicolon", CSV, ENTRIES).await.expect(201);
    let sample = worked::entries().pop().expect("portions");
    send(&house, &office, "", NDJSON, &placed(sample)).await.expect(201);
    send(&house, &office, "", CSV, SALES).await.expect(201);
    let brought = night::receipt(&house, &office, &night::night("ford", DATE)).await;
    assert_eq!(verify(&house).await.differences, []);

    let (other, _) = open().await;
    let (_, sent) = worked::play(&other).await;
    assert_eq!(brought["items"], sent["items"]);
}

/// An entry with its place, as a line of NDJSON.
fn placed(mut entry: Value) -> String {
    entry["store"] = json!("ford");
    entry["business_date"] = json!(DATE);
    entry.to_string()
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn the_same_file_goes_in_once() {
    let (house, office) = open().await;
    let key = parings::edge::new_id().to_string();
    let first = send_as(&house, &office, &key, "", CSV, NIGHTS.as_bytes()).await;
    first.expect(201);
    let again = send_as(&house, &office, &key, "", CSV, NIGHTS.as_bytes()).await;
    assert_eq!((again.expect(201).json.clone()), first.json);
    let other = send(&house, &office, "", CSV, NIGHTS).await;
    assert_eq!(other.expect(200).json["outcome"], "already_imported");
    assert_eq!(other.json["file"], first.json["file"]);
    let taken = send_as(&house, &office, &key, "", CSV, SALES.as_bytes()).await;
    taken.expect_problem(422, "id-taken");
    assert_eq!(count(&house, "SELECT count(*) FROM night_revisions").await, 2);
    assert_eq!(count(&house, "SELECT count(*) FROM imports").await, 1);
    let noted = house.get("/v1/audit?action=import%20file", Some(&office.token)).await;
    let noted = noted.expect(200).json["items"].as_array().cloned().expect("rows");
    assert_eq!(noted.len(), 1, "{noted:?}");
    assert_eq!(noted[0]["detail"]["rows"], 7);
}

/// The head of the request says that a file follows, and none does: the answer does not wait for it.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn who_may_not_import_is_answered_before_a_byte_of_the_file_is_read() {
    let (house, _) = open().await;
    for role in network::roles().into_iter().filter(|role| *role != Role::Office) {
        let token = house.token(&house.person(role.clone()).await);
        let key = parings::edge::new_id();
        let head = format!(
            "POST /v1/imports HTTP/1.1\r\nHost: parings\r\nAuthorization: Bearer {token}\r\n\
             Idempotency-Key: {key}\r\nContent-Type: text/csv\r\nContent-Length: 1000\r\n\r\n"
        );
        let mut stream = TcpStream::connect(house.address()).expect("it listens");
        stream.write_all(head.as_bytes()).expect("sent");
        let mut status = String::new();
        BufReader::new(stream).read_line(&mut status).expect("a line");
        assert_eq!(status.trim_end(), "HTTP/1.1 403 Forbidden", "{role:?}");
    }
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_file_goes_in_as_a_whole_or_not_at_all() {
    let (house, office) = open().await;
    // Nobody counts turnips, nothing weighs below zero, and a bag is none of a mass.
    let bad = NIGHTS
        .replace(
            "ford,2026-06-16,count,,,potato,dry-store,,3,bag",
            "ford,2026-06-16,count,,,turnip,dry-store,,3,bag",
        )
        .replace("22.66,kg", "22.66,sack");
    let sent = send(&house, &office, "", CSV, &bad).await;
    sent.expect_problem(422, "bad-rows");
    let told = rows(&sent);
    let places: Vec<_> = told.iter().map(|(line, column, _)| (*line, column.as_str())).collect();
    assert!(places == [(6, ""), (7, "")], "{told:?}");
    for table in ["night_revisions", "night_tallies", "imports", "item_spans"] {
        assert_eq!(count(&house, &format!("SELECT count(*) FROM {table}")).await, 0, "{table}");
    }
    // What cannot be read and what the rules refuse are told together.
    let both = bad.replace("39.1,kg", "some,kg");
    let told = rows(send(&house, &office, "", CSV, &both).await.expect_problem(422, "bad-rows"));
    let lines: Vec<_> = told.iter().map(|(line, ..)| *line).collect();
    assert_eq!(lines, [4], "the night that follows the bad row may lack it: {told:?}");
    let apart = ENTRIES.replace("272,2", "much").replace("22,7;kg;;weir", "22,7;kg;;nowhere");
    let told = send(&house, &office, "?dialect=semicolon", CSV, &apart).await;
    let told = rows(told.expect_problem(422, "bad-rows"));
    let places: Vec<_> = told.iter().map(|(line, column, _)| (*line, column.as_str())).collect();
    assert_eq!(places, [(3, "other_store"), (7, "quantity")], "{told:?}");
    let shape = send(&house, &office, "", CSV, &NIGHTS.replace("90.0", "ninety")).await;
    assert_eq!(rows(shape.expect_problem(422, "bad-rows"))[0].0, 3);
}

/// A blank is not a zero: a count that says it is complete and lacks a line is refused.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_complete_count_without_a_line_refuses_the_file() {
    let (house, office) = open().await;
    let lacking = NIGHTS.replace("ford,2026-06-15,count,,,potato,cold-room,chill,39.1,kg\n", "");
    let sent = send(&house, &office, "", CSV, &lacking).await;
    sent.expect_problem(422, "bad-rows");
    assert_eq!(rows(&sent)[0].0, 2, "{}", sent.text);
    let partial = lacking.replace("ford,2026-06-15,night,yes", "ford,2026-06-15,night,no");
    send(&house, &office, "", CSV, &partial).await.expect(201);
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_dry_run_finds_the_same_and_writes_nothing() {
    let (house, office) = open().await;
    let looked = send(&house, &office, "?dry_run=true", CSV, NIGHTS).await;
    assert_eq!(looked.expect(200).json["outcome"], "looked_at");
    assert_eq!(looked.json["loaded"]["nights"], 2);
    let bad = NIGHTS.replace("potato,dry-store", "turnip,dry-store");
    let dry = send(&house, &office, "?dry_run=true", CSV, &bad).await;
    let real = send(&house, &office, "", CSV, &bad).await;
    assert_eq!(rows(&dry), rows(&real));
    assert!(!rows(&real).is_empty());
    for table in ["night_revisions", "night_tallies", "imports", "writes"] {
        let of = format!("SELECT count(*) FROM {table} WHERE true");
        let of =
            if table == "writes" { format!("{of} AND operation LIKE '%imports%'") } else { of };
        assert_eq!(count(&house, &of).await, 0, "{table}");
    }
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn nights_on_record_are_refused_unless_amended_with_a_reason() {
    let (house, office) = open().await;
    send(&house, &office, "", CSV, NIGHTS).await.expect(201);
    let corrected = NIGHTS.replace("27.5,kg", "28.5,kg");
    let sent = send(&house, &office, "", CSV, &corrected).await;
    sent.expect_problem(422, "bad-rows");
    let lines: Vec<_> = rows(&sent).into_iter().map(|(line, ..)| line).collect();
    assert_eq!(lines, [2, 5], "{}", sent.text);
    let amended = send(&house, &office, "?amend=Found+on+paper", CSV, &corrected).await;
    amended.expect(201);
    let revisions = revisions(&house, &office, &night::night("ford", DATE)).await;
    let reasons: Vec<_> = revisions.iter().map(|r| r["reason"].as_str()).collect();
    assert!(reasons.contains(&Some("Found on paper")), "{revisions:?}");
    assert_eq!(verify(&house).await.differences, []);
}

/// Lines without ids would count twice.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn sales_on_record_are_not_added_to_without_a_reason() {
    let (house, office) = open().await;
    send(&house, &office, "", CSV, SALES).await.expect(201);
    let more = "store,business_date,code,units,net\nford,2026-06-16,f100,1,4.50\n";
    let sent = send(&house, &office, "", CSV, more).await;
    sent.expect_problem(422, "bad-rows");
    assert_eq!(rows(&sent)[0].0, 2);
    // Tickets are others' facts.
    let tickets = "store,business_date,ticket,placed,handed_off\n\
        ford,2026-06-16,t1,2026-06-16T10:00:00Z,2026-06-16T10:06:00Z\n";
    send(&house, &office, "", CSV, tickets).await.expect(201);
    send(&house, &office, "?amend=A+forgotten+till", CSV, more).await.expect(201);
    assert_eq!(verify(&house).await.differences, []);
}

/// What is asked of a count that is sent is asked of none that is brought in: it is left out. Ten
/// bags stood there, next to nothing was sold, and ten kilograms were typed (invented).
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn what_would_be_asked_is_left_out_and_nothing_is_held() {
    let (house, office) = open().await;
    put_limits(&house, &office.token, &json!({ "least_stake": "1" })).await;
    let first = "store,business_date,row,complete,item,place,stage,quantity,unit,product,size,units\n\
        ford,2026-06-15,night,yes,,,,,,,,\n\
        ford,2026-06-15,count,,potato,dry-store,,10,bag,,,\n\
        ford,2026-06-15,count,,potato,cold-room,chill,0,kg,,,\n\
        ford,2026-06-15,sold,,,,,,,fries,g100,1\n";
    send(&house, &office, "", CSV, first).await.expect(201);
    let slip = first.replace("2026-06-15", DATE).replace("10,bag", "10,kg");
    let sent = send(&house, &office, "", CSV, &slip).await;
    assert_eq!(sent.expect(201).json["loaded"]["left_out"], 1);
    let receipt = night::receipt(&house, &office, &night::night("ford", DATE)).await;
    assert!(receipt.get("held").is_none(), "{receipt}");
    assert_eq!(night::of_item(&receipt, "potato")["known"], "not_counted", "{receipt}");
    let kept = revisions(&house, &office, &night::night("ford", DATE)).await;
    assert_eq!(kept[0]["lines"][0]["quantity"], json!({ "value": "10", "unit": "kg" }));
    assert_eq!(verify(&house).await.differences, []);
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn months_without_a_place_are_named() {
    let (house, office) = open().await;
    let old = "store,business_date,ticket,placed\nford,2019-03-02,t1,2019-03-02T10:00:00Z\n";
    let sent = send(&house, &office, "", CSV, old).await;
    sent.expect_problem(409, "conflict");
    let detail = sent.json["detail"].as_str().expect("a detail");
    assert!(detail.contains("2019-03") && detail.contains("--since 2019-03-01"), "{detail}");
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn what_is_sent_must_be_a_file_of_a_known_type_and_size() {
    let house = House::with(|config| config.http.import_limit = 1_000).await;
    let office = house.person(Role::Office).await;
    send(&house, &office, "", "application/json", "{}")
        .await
        .expect_problem(415, "unsupported-media-type");
    let long = "x".repeat(1_001);
    send(&house, &office, "", CSV, &long).await.expect_problem(413, "too-large");
    send(&house, &office, "?kind=gifts", CSV, "a").await.expect_problem(422, "invalid");
    send(&house, &office, "?colour=red", CSV, "a").await.expect_problem(400, "unreadable");
    let key = parings::edge::new_id().to_string();
    let latin = send_as(&house, &office, &key, "", CSV, b"a\nb\xE9\n").await;
    assert_eq!(rows(latin.expect_problem(422, "bad-rows"))[0].0, 2);
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn files_are_for_head_office() {
    let (house, _) = open().await;
    let manager = house.person(role(Role::Manager, "ford")).await;
    send(&house, &manager, "", CSV, NIGHTS).await.expect_problem(403, "forbidden");
    send(&house, &manager, "?dry_run=true", CSV, NIGHTS).await.expect_problem(403, "forbidden");
}

/// The same night as CSV and as the API's own shape.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn ndjson_has_the_shapes_of_the_api() {
    let (house, office) = open().await;
    let entries: Vec<String> = worked::entries().into_iter().map(placed).collect();
    let sent = send(&house, &office, "", NDJSON, &entries.join("\n")).await;
    sent.expect(201);
    let path = format!("/v1/stores/ford/entries?business_date={DATE}");
    let listed = house.get(&path, Some(&office.token)).await;
    let listed = listed.expect(200).json["items"].as_array().map(Vec::len);
    assert_eq!(listed, Some(worked::entries().len()));
    let bad = entries[0].replace("potato", "turnip").replace(
        serde_json::from_str::<Value>(&entries[0]).expect("JSON")["id"].as_str().expect("an id"),
        &parings::edge::new_id().to_string(),
    );
    let sent = send(&house, &office, "", NDJSON, &bad).await;
    sent.expect_problem(422, "bad-rows");
    assert_eq!((rows(&sent)[0].0, rows(&sent)[0].1.as_str()), (1, "/quantity"));
}
