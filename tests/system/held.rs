//! Counts in which something looks wrong, over HTTP: held, answered, left to the next opening.

use chrono::{DateTime, TimeDelta, Utc};
use parings::cluster::SUPERUSER;
use parings::db::checks::lines_in_force;
use parings::edge::new_id;
use parings_core::access::Role;
use parings_tests::house::{House, Person};
use parings_tests::network::{CREATE, put_limits};
use parings_tests::night::{
    amend, count, delivery, line, night, of_item, receipt, record, role, staged, submit, with,
};
use parings_tests::waiting::{answer, asked, confirm, open, post, revisions};
use parings_tests::{Reply, house, network};
use serde_json::{Value, json};

const MONDAY: &str = "2026-06-15";
const TUESDAY: &str = "2026-06-16";
const SLIP: &str = "pack_slip:potato@dry-store";

fn tuesday() -> String {
    night("ford", TUESDAY)
}

/// A network that asks about slips of packs and nothing else, and the manager of ford.
async fn quiet() -> (House, Person, Person) {
    let house = house().await;
    let office = house.person(Role::Office).await;
    network::start(&house, &office.token).await;
    let manager = house.person(role(Role::Manager, "ford")).await;
    (house, office, manager)
}

/// So many bags, or kilograms, in the dry store, nothing in the cold room, and a sale that says what
/// was used: next to nothing. An invented night.
fn typed(value: &str, unit: &str) -> Value {
    let lines = [
        line("potato", "dry-store", value, unit),
        staged("potato", "cold-room", "trim", "0", "kg"),
    ];
    let sold = json!([{ "product": "fries", "size": "one", "units": 1 }]);
    with(count(&lines), "units_sold", sold)
}

/// Ten bags on Monday; on Tuesday "10 kg", where ten bags should still stand.
async fn slipped() -> (House, Person, Reply) {
    let (house, _, manager) = quiet().await;
    submit(&house, &manager, &night("ford", MONDAY), &typed("10", "bag")).await;
    house.clock.set(house.clock.now() + TimeDelta::days(1));
    let held = house.put(&tuesday(), Some(&manager.token), &[CREATE], &typed("10", "kg")).await;
    (house, manager, held)
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_count_from_before_shelves_were_packed_is_compared_as_any_other() {
    let (house, office, manager) = quiet().await;
    put_limits(&house, &office.token, &json!({ "same_content_minutes": 15 })).await;
    // Monday's comes late, and Tuesday's says the same.
    house.clock.set(house.clock.now() + TimeDelta::days(1));
    submit(&house, &manager, &night("ford", MONDAY), &typed("10", "bag")).await;
    let (ford, days) = ("ford".parse().unwrap(), [MONDAY, TUESDAY].map(|day| day.parse().unwrap()));
    let conn = house.diesel(SUPERUSER).await;
    let packed = lines_in_force(&conn, &ford, days[0], days[1]).await.expect("lines");
    assert_eq!(packed.len(), 1);
    let before = "UPDATE night_revisions SET shelves = NULL";
    assert_eq!(house.pg(SUPERUSER).await.execute(before, &[]).await.expect("a count"), 1);
    let read = lines_in_force(&conn, &ford, days[0], days[1]).await.expect("lines");
    assert_eq!((&read, read[0].1.len()), (&packed, 2));
    let held = house.put(&tuesday(), Some(&manager.token), &[CREATE], &typed("10", "bag")).await;
    assert!(asked(&held.expect(202).json)[0].starts_with("same_content"), "{}", held.text);
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_slip_is_held_with_both_readings_and_one_tap_mends_it() {
    let (house, manager, held) = slipped().await;
    held.expect(202);
    assert_eq!(held.header("etag"), "\"r1\"");
    assert_eq!(asked(&held.json), [SLIP]);
    let check = &held.json["held"]["checks"][0];
    assert_eq!((&check["at"], &check["treatment"]), (&json!(["/lines/0"]), &json!("confirm")));
    let readings = check["readings"].as_array().expect("readings");
    let amounts: Vec<_> = readings.iter().map(|r| &r["quantity"]).collect();
    assert_eq!(amounts[0], &json!({ "value": "10", "unit": "kg" }));
    assert!(amounts[1..].contains(&&json!({ "value": "10", "unit": "bag" })), "{readings:?}");
    // Counted blind: what should stand there is nowhere.
    assert!(!held.text.contains("226.8") && !held.text.contains("226.5"), "{}", held.text);
    // Saved and shown, and not counted.
    let shown = receipt(&house, &manager, &tuesday()).await;
    assert_eq!(shown["held"], held.json["held"]);
    assert!(shown.get("count").is_none());
    assert_eq!(of_item(&shown, "potato")["known"], "not_counted");

    let reading = json!({ "value": "10", "unit": "bag" });
    let bags = json!([{ "check": SLIP, "answer": "other_reading", "reading": reading }]);
    let done = confirm(&house, &manager, &tuesday(), 1, bags).await;
    assert_eq!(done.expect(200).header("etag"), "\"r2\"");
    assert!(done.json.get("held").is_none());
    assert_eq!(done.json["count"]["revision"], 2);
    assert_eq!(of_item(&done.json, "potato")["usage"]["closing"]["value"], "226.8");

    // What was typed is still there, and what became of it.
    let all = revisions(&house, &manager, &tuesday()).await;
    assert_eq!(all[0]["lines"][0]["quantity"], json!({ "value": "10", "unit": "kg" }));
    assert_eq!(
        (&all[0]["state"], &all[0]["settlement"]["outcome"]),
        (&json!("held"), &json!("overtaken"))
    );
    assert_eq!(all[0]["answers"][0]["answer"], "other_reading");
    assert_eq!(all[1]["state"], "accepted");
    assert!(all[1]["reason"].as_str().expect("a reason").contains(SLIP));
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn as_typed_and_counted_again_are_always_taken_and_not_asked_again() {
    for word in ["as_typed", "counted_again"] {
        let (house, manager, held) = slipped().await;
        held.expect(202);
        let done = confirm(&house, &manager, &tuesday(), 1, json!([answer(SLIP, word)])).await;
        done.expect(200);
        assert_eq!(done.json["count"]["revision"], 1);
        assert_eq!(of_item(&done.json, "potato")["usage"]["closing"]["value"], "10");
        // The same number in an amendment is not asked about again; another one is.
        let again = amend(&house, &manager, &tuesday(), &typed("10", "kg")).await;
        assert_eq!(again["count"]["revision"], 2);
        let other = with(typed("9.9", "kg"), "reason", "One more look");
        let any = ("If-Match", "*");
        let other = house.put(&tuesday(), Some(&manager.token), &[any], &other).await;
        assert_eq!(asked(&other.expect(202).json), [SLIP]);
        assert_eq!(other.json["count"]["revision"], 2, "a held amendment displaces nothing");
    }
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_correction_is_looked_at_like_anything_typed() {
    let (house, manager, held) = slipped().await;
    held.expect(202);
    let to = |value: &str, unit: &str| {
        let quantity = json!({ "value": value, "unit": unit });
        json!([{ "check": SLIP, "answer": "corrected", "quantity": quantity }])
    };
    let still = confirm(&house, &manager, &tuesday(), 1, to("9.8", "kg")).await;
    assert_eq!(asked(&still.expect(202).json), [SLIP]);
    assert_eq!(still.json["held"]["revision"], 2);
    // The first revision waits no longer.
    let late = confirm(&house, &manager, &tuesday(), 1, json!([answer(SLIP, "as_typed")])).await;
    late.expect_problem(409, "conflict");
    let done = confirm(&house, &manager, &tuesday(), 2, to("9.8", "bag")).await;
    assert_eq!(done.expect(200).json["count"]["revision"], 3);
    // A unit that is none, a line that is not the one, a check that was not asked.
    let (house, manager, _) = slipped().await;
    let lines = json!([line("potato", "attic", "1", "bag")]);
    for (answers, place) in [
        (to("1", "barrel"), "/answers/0"),
        (json!([{ "check": SLIP, "answer": "counted_again", "lines": lines }]), "/answers/0"),
        (json!([answer("old_date:night", "as_typed")]), "/answers/0/check"),
        (json!([{ "check": SLIP, "answer": "other_reading" }]), "/answers/0/reading"),
        (json!([{ "check": SLIP, "answer": "other_reading", "reading": 9 }]), "/answers/0/reading"),
        (json!([]), "/answers"),
    ] {
        let refused = confirm(&house, &manager, &tuesday(), 1, answers).await;
        assert_eq!(refused.expect_problem(422, "invalid").pointers(), [place], "{}", refused.text);
    }
    confirm(&house, &manager, &tuesday(), 7, json!([answer(SLIP, "as_typed")]))
        .await
        .expect_problem(409, "conflict");
    assert_eq!(revisions(&house, &manager, &tuesday()).await.len(), 1);
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn answers_can_be_sent_again_and_not_changed() {
    let (house, manager, held) = slipped().await;
    held.expect(202);
    let path = format!("{}/confirmations", tuesday());
    let body = json!({ "revision": 1, "answers": [answer(SLIP, "as_typed")] });
    let key = new_id().to_string();
    let first = post(&house, &manager, &path, &key, &body).await;
    first.expect(200);
    let again = post(&house, &manager, &path, &key, &body).await;
    assert_eq!(again.expect(200).json, first.json);
    // The same answer under another key changes nothing; another answer is refused.
    let same = post(&house, &manager, &path, &new_id().to_string(), &body).await;
    assert_eq!(same.expect(200).json["count"], first.json["count"]);
    let other = json!([answer(SLIP, "counted_again")]);
    confirm(&house, &manager, &tuesday(), 1, other).await.expect_problem(409, "conflict");
    let all = revisions(&house, &manager, &tuesday()).await;
    assert_eq!((all.len(), all[0]["answers"].as_array().map(Vec::len)), (1, Some(1)));
    let other = json!({ "revision": 1, "answers": [answer(SLIP, "counted_again")] });
    post(&house, &manager, &path, &key, &other).await.expect_problem(422, "id-taken");
}

#[tokio::test(flavor = "multi_thread", worker_threads = 4)]
async fn of_two_who_answer_at_once_the_second_sees_the_first() {
    let (house, manager, held) = slipped().await;
    held.expect(202);
    let other = house.person(role(Role::Manager, "ford")).await;
    let night = tuesday();
    let reading = json!([{ "check": SLIP, "answer": "other_reading", "reading": 1 }]);
    let (one, two) = tokio::join!(
        confirm(&house, &manager, &night, 1, json!([answer(SLIP, "as_typed")])),
        confirm(&house, &other, &night, 1, reading),
    );
    let mut statuses = [one.status.as_u16(), two.status.as_u16()];
    statuses.sort_unstable();
    assert_eq!(statuses, [200, 409], "{} {}", one.text, two.text);
    let all = revisions(&house, &manager, &night).await;
    assert_eq!(all[0]["answers"].as_array().map(Vec::len), Some(1));
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn entries_that_come_with_a_held_count_are_recorded_at_once() {
    let (house, _, manager) = quiet().await;
    submit(&house, &manager, &night("ford", MONDAY), &typed("10", "bag")).await;
    house.clock.set(house.clock.now() + TimeDelta::days(1));
    let body = with(typed("12", "kg"), "entries", json!([delivery("2", "bag")]));
    let held = house.put(&tuesday(), Some(&manager.token), &[CREATE], &body).await;
    assert_eq!(asked(&held.expect(202).json), [SLIP]);
    let entries = format!("/v1/stores/ford/entries?business_date={TUESDAY}");
    let found = house.get(&entries, Some(&manager.token)).await;
    assert_eq!(found.expect(200).json["items"].as_array().map(Vec::len), Some(1), "{}", found.text);
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_first_night_that_nobody_answers_is_accepted_at_the_next_opening_with_what_is_doubtful_left_out()
 {
    let (house, office, manager) = quiet().await;
    put_limits(&house, &office.token, &json!({ "old_days": 1 })).await;
    let path = night("ford", "2026-06-12");
    let held = house.put(&path, Some(&manager.token), &[CREATE], &typed("10", "bag")).await;
    assert_eq!(asked(&held.expect(202).json), ["old_date:night"]);
    assert!(held.json.get("count").is_none());
    let settles: DateTime<Utc> =
        held.json["held"]["settles_at"].as_str().and_then(|at| at.parse().ok()).expect("a moment");
    assert!(settles > house.clock.now() && settles < house.clock.now() + TimeDelta::days(1));

    house.clock.set(settles - TimeDelta::seconds(1));
    assert_eq!(open(&house).await, 0);
    house.clock.set(settles);
    assert_eq!(open(&house).await, 1);
    assert_eq!(open(&house).await, 0);
    let stands = receipt(&house, &manager, &path).await;
    assert_eq!((&stands["count"]["revision"], &stands["items_left_out"]), (&json!(1), &json!(1)));
    assert_eq!(stands["left_out"][0]["item"], "potato");
    assert!(stands["left_out"][0]["why"][0].as_str().expect("why").contains("days ago"));
    assert_eq!(of_item(&stands, "potato")["known"], "not_counted");
    let all = revisions(&house, &manager, &path).await;
    let settled = &all[0]["settlement"];
    assert_eq!((&settled["outcome"], &settled["at_opening"]), (&json!("accepted"), &json!(true)));
    assert_eq!((settled.get("settled_by"), &settled["left_out"]), (None, &json!(["potato"])));
    // Too late for an answer; an amendment puts it right.
    let late =
        json!([with(answer("old_date:night", "as_typed"), "reason", "The tablet was broken")]);
    confirm(&house, &manager, &path, 1, late).await.expect_problem(409, "conflict");
    let mended = amend(&house, &manager, &path, &typed("10", "bag")).await;
    assert_eq!((&mended["items_left_out"], &mended["count"]["revision"]), (&json!(0), &json!(2)));
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_count_of_long_ago_says_why_it_comes_now() {
    let (house, office, manager) = quiet().await;
    put_limits(&house, &office.token, &json!({ "old_days": 1 })).await;
    let path = night("ford", "2026-06-12");
    house.put(&path, Some(&manager.token), &[CREATE], &typed("10", "bag")).await.expect(202);
    let silent = json!([answer("old_date:night", "as_typed")]);
    let refused = confirm(&house, &manager, &path, 1, silent).await;
    assert_eq!(refused.expect_problem(422, "invalid").pointers(), ["/answers/0/reason"]);
    let said =
        json!([with(answer("old_date:night", "as_typed"), "reason", "The tablet was broken")]);
    let done = confirm(&house, &manager, &path, 1, said).await;
    assert_eq!(done.expect(200).json["items_left_out"], 0);
    assert_eq!(of_item(&done.json, "potato")["known"], "baseline");
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn at_most_three_are_asked_and_the_rest_is_left_out_anyway() {
    let (house, office, manager) = quiet().await;
    let items = ["beet", "carrot", "potato", "swede"];
    for item in items {
        if item != "potato" {
            network::put(&house, &office.token, "items", item, network::potato()).await;
        }
    }
    let all = |unit: &dyn Fn(&str) -> &'static str| {
        let shelf = |item: &&str| {
            let unit = unit(item);
            [line(item, "dry-store", "10", unit), staged(item, "cold-room", "trim", "0", "kg")]
        };
        let lines: Vec<Value> = items.iter().flat_map(shelf).collect();
        let sold = json!([{ "product": "fries", "size": "one", "units": 1 }]);
        with(count(&lines), "units_sold", sold)
    };
    submit(&house, &manager, &night("ford", MONDAY), &all(&|_| "bag")).await;
    house.clock.set(house.clock.now() + TimeDelta::days(1));
    let held = house.put(&tuesday(), Some(&manager.token), &[CREATE], &all(&|_| "kg")).await;
    let asked_now: Vec<String> =
        asked(&held.expect(202).json).into_iter().map(str::to_owned).collect();
    assert_eq!(asked_now.len(), 3);
    let beyond = held.json["held"]["left_out_anyway"].as_array().expect("a list");
    assert_eq!(beyond.len(), 1);
    let left = beyond[0]["about"]["item"].as_str().expect("an item").to_owned();

    // One tap each; a reading makes a revision, in which nothing new is asked.
    let first = json!([{ "check": asked_now[0], "answer": "other_reading", "reading": 1 }]);
    let two = confirm(&house, &manager, &tuesday(), 1, first).await;
    assert_eq!(asked(&two.expect(202).json), asked_now[1..]);
    assert_eq!(two.json["held"]["left_out_anyway"].as_array().map(Vec::len), Some(1));
    let second = json!([answer(&asked_now[1], "counted_again")]);
    let one = confirm(&house, &manager, &tuesday(), 2, second).await;
    assert_eq!(asked(&one.expect(202).json), asked_now[2..]);
    let third = json!([answer(&asked_now[2], "as_typed")]);
    let done = confirm(&house, &manager, &tuesday(), 2, third).await;
    assert_eq!(done.expect(200).json["items_left_out"], 1);
    assert_eq!(done.json["left_out"][0]["item"], json!(left));
    // Left out: the next count spans both nights.
    house.clock.set(house.clock.now() + TimeDelta::days(1));
    let typed = [&asked_now[1], &asked_now[2]];
    let stands = all(&|item| if typed.iter().any(|id| id.contains(item)) { "kg" } else { "bag" });
    let wednesday = submit(&house, &manager, &night("ford", "2026-06-17"), &stands).await;
    assert_eq!(of_item(&wednesday, &left)["usage"]["nights"], 2);
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_later_submission_takes_the_place_of_a_held_one() {
    let (house, manager, held) = slipped().await;
    held.expect(202);
    let right = with(typed("10", "bag"), "reason", "Typed kg for bags");
    let tag = ("If-Match", "\"r1\"");
    let right = house.put(&tuesday(), Some(&manager.token), &[tag], &right).await;
    assert_eq!(right.expect(200).json["count"]["revision"], 2);
    assert!(right.json.get("held").is_none());
    house.clock.set(house.clock.now() + TimeDelta::days(3));
    assert_eq!(open(&house).await, 0);
    let all = revisions(&house, &manager, &tuesday()).await;
    assert_eq!(all[0]["settlement"]["outcome"], "overtaken");
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn use_below_zero_that_nobody_answers_heals_with_the_delivery() {
    let (house, office, manager) = quiet().await;
    put_limits(&house, &office.token, &json!({ "use_spreads": "3" })).await;
    submit(&house, &manager, &night("ford", MONDAY), &typed("2", "bag")).await;
    house.clock.set(house.clock.now() + TimeDelta::days(1));
    let held = house.put(&tuesday(), Some(&manager.token), &[CREATE], &typed("9", "bag")).await;
    assert_eq!(asked(&held.expect(202).json), ["negative_use:potato"]);
    house.clock.set(house.clock.now() + TimeDelta::days(1));
    assert_eq!(open(&house).await, 1);
    // Relied on as a count; its span is doubted until what was missing comes.
    let doubted = receipt(&house, &manager, &tuesday()).await;
    assert_eq!(doubted["items_left_out"], 0);
    let doubts = |receipt: &Value| of_item(receipt, "potato")["usage"]["doubts"].clone();
    assert_eq!(doubts(&doubted), json!(["negative_use"]));
    let late = [delivery("7", "bag")];
    record(&house, &manager, "ford", TUESDAY, &late).await.expect(201);
    assert_eq!(doubts(&receipt(&house, &manager, &tuesday()).await), Value::Null);
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn the_same_answer_again_and_again_proposes_a_wider_limit() {
    let (house, office, manager) = quiet().await;
    put_limits(&house, &office.token, &json!({ "use_spreads": "3", "same_answers": 2 })).await;
    submit(&house, &manager, &night("ford", MONDAY), &typed("2", "bag")).await;
    for (date, bags) in [(TUESDAY, "9"), ("2026-06-17", "20")] {
        house.clock.set(house.clock.now() + TimeDelta::days(1));
        let path = night("ford", date);
        let body = typed(bags, "bag");
        house.put(&path, Some(&manager.token), &[CREATE], &body).await.expect(202);
        let right = json!([answer("negative_use:potato", "counted_again")]);
        confirm(&house, &manager, &path, 1, right).await.expect(200);
    }
    let path = "/v1/tolerance-proposals";
    house.get(path, Some(&manager.token)).await.expect_problem(403, "forbidden");
    let found = house.get(path, Some(&office.token)).await;
    let proposal = &found.expect(200).json[0];
    assert_eq!((&proposal["kind"], &proposal["item"]), (&json!("negative_use"), &json!("potato")));
    assert_eq!(
        (&proposal["limit"], &proposal["now"], &proposal["proposed"]),
        (&json!("use_spreads"), &json!("3"), &json!("3.75"))
    );
    assert_eq!(proposal["stores"][0]["nights"], 2);
    assert_eq!(proposal["stores"][0]["since"], TUESDAY);
}
