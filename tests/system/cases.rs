//! Cases from the night they are raised to the verdict.

use chrono::TimeDelta;
use parings_core::access::Role;
use serde_json::{Value, json};

use crate::standing_out::{Scene, coach, last, manager};

fn date(night: i64) -> String {
    (last() + TimeDelta::days(night)).to_string()
}

/// The one case there is.
async fn the_case(scene: &Scene) -> Value {
    let mut cases = scene.listed(coach("upper"), "/v1/cases").await;
    assert_eq!(cases.len(), 1, "{cases:?}");
    cases.remove(0)
}

fn path_of(case: &Value) -> String {
    let store = case["store"].as_str().expect("a store");
    format!("/v1/stores/{store}/cases/{}", case["id"].as_str().expect("an id"))
}

async fn happens(scene: &Scene, role: Role, case: &Value, event: Value) -> Value {
    let reply = scene.post(role, &format!("{}/events", path_of(case)), &event).await;
    reply.expect(201);
    reply.json.clone()
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_case_is_raised_once_and_told_to_those_it_concerns() {
    let scene = Scene::set().await;
    scene.look().await;
    let case = the_case(&scene).await;
    assert_eq!((&case["store"], &case["stage"]), (&json!("ford"), &json!("open")));
    assert_eq!(case["next"], json!(["visited", "dismissed"]));
    assert!(case["sentence"].as_str().is_some_and(|s| s.starts_with("Since about 2026-06-09 use")));
    // Every figure opens.
    for address in case["opens"].as_array().expect("addresses") {
        scene.get(coach("upper"), address.as_str().expect("an address")).await.expect(200);
    }
    assert_eq!(scene.listed(coach("lower"), "/v1/cases").await.len(), 0);
    assert_eq!(scene.listed(manager("ford"), "/v1/cases").await.len(), 1);
    assert_eq!(scene.listed(manager("mill"), "/v1/cases").await.len(), 0);
    assert_eq!(scene.listed(Role::Office, "/v1/cases?stage=open").await.len(), 1);
    assert_eq!(scene.listed(Role::Office, "/v1/cases?stage=closed").await.len(), 0);
    // The next night finds the same, and it is the same case.
    scene.nights(1..=1, |store, _| if store == "ford" { 0.10 } else { 0.0 }).await;
    assert_eq!(scene.morning_after(1).await, 1);
    assert_eq!(the_case(&scene).await["id"], case["id"]);
    // What was seen stays as it was seen.
    assert_eq!(the_case(&scene).await["evidence"], case["evidence"]);
}

/// Kept on the 21st night after: before are the twenty nights since it was raised.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn what_was_promised_and_kept_is_judged_by_the_nights_that_raised_nothing() {
    let scene = Scene::set().await;
    scene.look().await;
    let case = the_case(&scene).await;
    let early = json!({ "kind": "kept", "on": date(1), "note": "Done" });
    let reply = scene.post(coach("upper"), &format!("{}/events", path_of(&case)), &early).await;
    reply.expect_problem(409, "conflict");
    assert!(reply.text.contains("what may come next is visited or dismissed"), "{}", reply.text);
    let upper = || coach("upper");
    let visited = json!({ "kind": "visited", "on": date(2), "note": "The ladle is too large." });
    happens(&scene, upper(), &case, visited).await;
    let answered = json!({ "kind": "answered", "said": "It came with the new counter." });
    happens(&scene, manager("ford"), &case, answered).await;
    let what = "A smaller ladle, and a sample weighed each evening; see to it, please";
    let promised = json!({ "kind": "promised", "what": what, "by": "manager", "due": date(20) });
    let told = happens(&scene, upper(), &case, promised).await;
    assert_eq!(told["checks"], json!([date(34), date(62)]));
    let calendar = scene.get(upper(), "/v1/districts/upper/calendar").await;
    calendar.expect(200);
    calendar_is_sound(&calendar.text, &[&date(20), &date(34), &date(62)], what);
    let kept = json!({ "kind": "kept", "on": date(21), "note": "Seen" });
    let told = happens(&scene, upper(), &case, kept).await;
    assert_eq!((&told["stage"], &told["checks"]), (&json!("kept"), &json!([date(35), date(63)])));

    let mended = |store: &str, night: i64| match store {
        "ford" if night < 21 => 0.10,
        _ => 0.0,
    };
    scene.nights(1..=63, mended).await;
    scene.morning_after(34).await;
    assert_eq!(the_case(&scene).await["stage"], "kept");
    scene.morning_after(35).await;
    let looked = the_case(&scene).await;
    let last = |case: &Value| case["history"].as_array().expect("events").last().cloned();
    let interim = last(&looked).expect("an event");
    assert_eq!((&interim["kind"], &interim["verdict"]), (&json!("checked"), &json!("worked")));
    assert_eq!(looked["stage"], "kept");
    scene.morning_after(63).await;
    let closed = the_case(&scene).await;
    assert_eq!((&closed["stage"], &closed["verdict"]), (&json!("closed"), &json!("worked")));
    let says = last(&closed).expect("an event")["says"].as_str().expect("words").to_owned();
    assert!(says.starts_with("It is better since: use beyond what sales explain changed by -10."));
    assert!(says.ends_with("over 43 nights against 20 before."), "{says}");
    let record = scene.get(Role::Office, "/v1/case-record").await;
    record.expect(200);
    assert_eq!(record.json["districts"][0]["of"], "upper");
    assert_eq!(record.json["coaches"][0]["worked"], 1);
    scene.get(upper(), "/v1/case-record").await.expect_problem(403, "forbidden");
}

/// RFC 5545 (read): lines end with CR LF and have 75 octets at most, folded before a space; commas and
/// semicolons in text are escaped (3.3.11); a date is told as such (3.3.4).
fn calendar_is_sound(text: &str, dates: &[&String], what: &str) {
    assert!(text.starts_with("BEGIN:VCALENDAR\r\n") && text.ends_with("END:VCALENDAR\r\n"));
    assert!(text.split("\r\n").all(|line| line.len() <= 75 && !line.contains('\n')), "{text}");
    let whole = text.replace("\r\n ", "");
    for date in dates {
        let day = format!("DTSTART;VALUE=DATE:{}\r\n", date.replace('-', ""));
        assert!(whole.contains(&day), "{day} {whole}");
    }
    let escaped = what.replace(',', "\\,").replace(';', "\\;");
    assert!(whole.contains(&format!("SUMMARY:ford: {escaped} (manager)\r\n")), "{whole}");
    assert_eq!(whole.matches("BEGIN:VEVENT").count(), dates.len());
    assert_eq!(whole.matches("\r\nUID:").count(), dates.len());
    assert_eq!(whole.matches("\r\nDTSTAMP:").count(), dates.len());
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn what_is_dismissed_is_not_raised_again_for_four_weeks() {
    let scene = Scene::set().await;
    scene.look().await;
    let case = the_case(&scene).await;
    let dismissed = json!({ "kind": "dismissed", "reason": "A street fair; the menu was larger." });
    let told = happens(&scene, coach("upper"), &case, dismissed).await;
    assert_eq!((&told["stage"], &told["next"]), (&json!("dismissed"), &json!([])));
    scene.nights(1..=29, |store, _| if store == "ford" { 0.10 } else { 0.0 }).await;
    for night in [1, 7, 27] {
        assert_eq!(scene.morning_after(night).await, 1);
        assert_eq!(the_case(&scene).await["id"], case["id"], "{night}");
    }
    scene.morning_after(29).await;
    assert_eq!(scene.listed(coach("upper"), "/v1/cases").await.len(), 2);
    assert_eq!(scene.listed(coach("upper"), "/v1/cases?stage=open").await.len(), 1);
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn who_may_follow_a_case_up_and_who_may_answer() {
    let scene = Scene::set().await;
    scene.look().await;
    let case = the_case(&scene).await;
    let path = format!("{}/events", path_of(&case));
    let visited = json!({ "kind": "visited", "on": date(1), "note": "Nobody was in." });
    let answered = json!({ "kind": "answered", "said": "I was on leave." });
    scene.post(manager("ford"), &path, &visited).await.expect_problem(403, "forbidden");
    scene.post(manager("mill"), &path, &answered).await.expect_problem(404, "not-found");
    scene.post(coach("upper"), &path, &answered).await.expect_problem(403, "forbidden");
    scene.post(coach("lower"), &path, &visited).await.expect_problem(404, "not-found");
    let owner = Role::Owner(vec!["brook".parse().expect("a code")]);
    scene.post(owner, &path, &visited).await.expect_problem(403, "forbidden");
    let blank = json!({ "kind": "visited", "on": date(1), "note": " " });
    scene.post(coach("upper"), &path, &blank).await.expect_problem(422, "invalid");
    let none = json!({ "kind": "checked" });
    scene.post(coach("upper"), &path, &none).await.expect_problem(422, "invalid");
    scene.post(manager("ford"), &path, &answered).await.expect(201);
    scene.post(coach("upper"), &path, &visited).await.expect(201);
}
