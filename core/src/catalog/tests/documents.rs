//! What is wrong with a document by itself.

use super::*;

#[track_caller]
fn check(kind: Kind, code: &str, body: &Value, expected: &[&str]) {
    assert_eq!(told(&read(kind, body).flaws(code)), expected, "{body}");
}

#[test]
fn every_document_of_the_kitchen_is_sound() {
    let all = catalog();
    for (kind, code, body) in documents() {
        let document = read(kind, &body);
        assert_eq!(document.kind(), kind);
        assert_eq!(Kind::from_word(kind.word()), Some(kind));
        assert!(document.flaws(code).is_empty(), "{code}");
        assert!(all.flaws(code, &document).is_empty(), "{code}: {:?}", all.flaws(code, &document));
    }
    assert_eq!(Kind::from_word("menus"), None);
}

#[test]
fn each_kind_is_looked_at() {
    let item = with(potato(), "/title", json!(""));
    check(Kind::Item, "potato", &item, &["/title: a title is missing"]);
    let no_code = read(Kind::Item, &potato()).flaws("No Code");
    assert_eq!(no_code.iter().map(|flaw| flaw.at.as_str()).collect::<Vec<_>>(), [""]);
    let kept = json!({ "title": "Every", "targets": [] });
    check(Kind::Channel, "every", &kept, &[": the code every is kept"]);
    check(Kind::Channel, "counter", &kept, &[]);
    let code = ": the one settings document has the code network";
    check(Kind::Settings, "other", &settings(), &[code]);
    let low = with(settings(), "/limits/lock_hours", json!(0));
    check(Kind::Settings, "network", &low, &["/limits/lock_hours: 1 to 1000"]);
    check(Kind::Region, "valley", &json!({ "title": "" }), &[]);
}

#[test]
fn flaws_of_a_product() {
    let none = json!({ "title": "Nothing", "sizes": [] });
    check(Kind::Product, "none", &none, &["/sizes: a product needs at least one size"]);
    let twice = with(fries(), "/sizes/1/code", json!("one"));
    check(Kind::Product, "fries", &twice, &["/sizes/1/code: this size is listed twice"]);
    let empty = "/sizes/0/lines: a size takes something: give lines, or parts for a combo";
    check(Kind::Product, "fries", &with(fries(), "/sizes/0/lines", json!([])), &[empty]);
    check(Kind::Product, "meal", &with(meal(), "/sizes/0/lines", json!([])), &[]);
    let zero = with(meal(), "/sizes/0/parts/0/count", json!(0));
    check(Kind::Product, "meal", &zero, &["/sizes/0/parts/0/count: none of it"]);
}

#[test]
fn flaws_of_dayparts() {
    let set = dayparts(json!({ "of": "all" }), "midday");
    let kept = with(set.clone(), "/dayparts/0/code", json!("outside"));
    check(Kind::Dayparts, "all", &kept, &["/dayparts/0/code: this code is kept"]);
    let twice = with(set.clone(), "/dayparts/1/code", json!("midday"));
    check(Kind::Dayparts, "all", &twice, &["/dayparts/1/code: this code is listed twice"]);
    // The later begins inside the earlier; then the earlier inside the later.
    let runs = "/dayparts/1/hours: the hours run into those of midday";
    for from in ["14:59", "10:00"] {
        let into = with(set.clone(), "/dayparts/1/hours/from", json!(from));
        check(Kind::Dayparts, "all", &into, &[runs]);
    }
}

#[test]
fn flaws_of_a_store() {
    for (at, value, flaw) in [
        ("/open/2", json!("mon"), "/open/2: this weekday is listed twice"),
        (
            "/other_hours/1/date",
            json!("2025-12-24"),
            "/other_hours/1/date: this date is listed twice",
        ),
        ("/hours", json!(null), "/hours: missing: other hours are other than these"),
        ("/fryers/1/code", json!("left"), "/fryers/1/code: this fryer is listed twice"),
    ] {
        check(Kind::Store, "ford", &with(ford(), at, value), &[flaw]);
    }
    let unkept = with(with(ford(), "/hours", json!(null)), "/other_hours", json!([]));
    check(Kind::Store, "ford", &unkept, &[]);
}
