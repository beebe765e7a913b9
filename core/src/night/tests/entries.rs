use super::*;
use crate::catalog::Catalog;

fn waste() -> Value {
    json!({ "kind": "waste", "item": "potato", "stage": "cut", "reason": "dropped",
        "quantity": amount("4", "kg"), "pan": null, "daypart": "midday" })
}

fn delivery() -> Value {
    json!({ "kind": "delivery", "item": "potato", "quantity": amount("25", "kg"),
        "paid": "22.50" })
}

fn transfer(direction: &str, other: &str) -> Value {
    json!({ "kind": format!("transfer_{direction}"), "item": "potato", "stage": "cut",
        "quantity": amount("8", "kg"), other: "weir" })
}

fn batch() -> Value {
    json!({ "kind": "batch", "item": "potato", "from": null, "put_in": amount("20", "kg"),
        "steps": [{ "stage": "cut", "out": amount("16", "kg") },
            { "stage": "chill", "out": amount("13", "kg") }],
        "discard_at": "2025-06-14T09:00:00Z" })
}

fn preparation() -> Value {
    json!({ "kind": "preparation", "item": "dip", "made": amount("5", "kg"),
        "inputs": [{ "item": "yoghurt", "stage": null, "quantity": amount("4", "kg") },
            { "item": "herbs", "stage": null, "quantity": amount("1", "kg") }],
        "discard_at": "2025-06-15T09:00:00Z" })
}

fn stock_out() -> Value {
    json!({ "kind": "stock_out", "item": "potato", "from": "2025-06-13T18:00:00Z",
        "to": "2025-06-13T18:00:01Z" })
}

fn sample() -> Value {
    json!({ "kind": "sample", "product": "fries", "size": "one", "item": "potato",
        "weights": [amount("206", "g"), amount("198", "g")] })
}

fn every() -> [Value; 8] {
    [
        waste(),
        delivery(),
        transfer("in", "from"),
        transfer("out", "to"),
        batch(),
        preparation(),
        stock_out(),
        sample(),
    ]
}

fn flaws(body: &Value) -> Vec<String> {
    told(&check_entry(&catalog(), &ford(), &entry(body)))
}

#[test]
fn each_kind_has_its_word_its_item_and_its_way_through_json() {
    for body in every() {
        let read = entry(&body);
        assert_eq!(read.body.kind(), body["kind"]);
        assert_eq!(read.body.item().as_str(), body["item"]);
        assert_eq!(serde_json::to_value(&read.body).unwrap()["kind"], body["kind"]);
        assert_eq!(flaws(&body), [""; 0], "{body}");
    }
}

/// 4 kg of what is cut were 4 ÷ 0.8 = 5 kg; a delivery is as purchased; 8 kg were 10 kg.
#[test]
fn how_much_each_kind_moves_as_purchased() {
    let grams = [Some(5_000), Some(25_000), Some(10_000), Some(10_000), Some(20_000), Some(5_000)];
    let nothing = [None, None];
    for (body, grams) in every().iter().zip(grams.into_iter().chain(nothing)) {
        let moved = amount_of(&catalog(), &entry(body));
        assert_eq!(moved, grams, "{body}");
    }
    let in_a_pan = with(waste(), "/pan", json!("deep"));
    assert_eq!(amount_of(&catalog(), &entry(&in_a_pan)), Some(3_750));
    let from_cut = with(batch(), "/from", json!("cut"));
    assert_eq!(amount_of(&catalog(), &entry(&from_cut)), Some(25_000));
}

#[track_caller]
fn refuses(body: &Value, at: &str, value: &Value, expected: &[&str]) {
    let found = flaws(&with(body.clone(), at, value.clone()));
    let each = found.iter().zip(expected).all(|(found, flaw)| found.starts_with(flaw));
    assert!(found.len() == expected.len() && each, "{at} {value}: {found:?}");
}

#[test]
fn nothing_is_no_entry() {
    let nothing = |at: &str| format!("{at}: nothing: leave the entry out");
    for (body, at) in [
        (waste(), "/quantity"),
        (delivery(), "/quantity"),
        (transfer("in", "from"), "/quantity"),
        (transfer("out", "to"), "/quantity"),
        (batch(), "/put_in"),
        (preparation(), "/made"),
    ] {
        refuses(&body, at, &amount("0", "kg"), &[&nothing(at)]);
        refuses(&body, at, &amount("1", "sack"), &[&format!("{at}: ")]);
    }
    refuses(&batch(), "/steps/1/out", &amount("0", "kg"), &[&nothing("/steps/1/out")]);
    let at = "/inputs/0/quantity";
    refuses(&preparation(), at, &amount("0", "kg"), &[&nothing(at)]);
    refuses(&sample(), "/weights/1", &amount("0", "g"), &[&nothing("/weights/1")]);
}

#[test]
fn waste_has_a_reason_that_is_no_standard_loss() {
    refuses(&waste(), "/reason", &json!("bored"), &["/reason: there is no reason \"bored\""]);
    let standard = "/reason: \"Peel\" is in the standard yield already";
    refuses(&waste(), "/reason", &json!("peel"), &[standard]);
    let dawn = "/daypart: there is no daypart \"dawn\"";
    refuses(&waste(), "/daypart", &json!("dawn"), &[dawn]);
    refuses(&waste(), "/daypart", &json!(null), &[]);
}

#[test]
fn a_delivery_costs_nothing_or_more() {
    refuses(&delivery(), "/paid", &json!("-0.01"), &["/paid: below zero"]);
    refuses(&delivery(), "/paid", &json!("0"), &[]);
    refuses(&delivery(), "/paid", &json!(null), &[]);
}

#[test]
fn a_transfer_is_between_two_stores() {
    let says = "a transfer is between two stores";
    let (from, to) = (format!("/from: {says}"), format!("/to: {says}"));
    refuses(&transfer("in", "from"), "/from", &json!("ford"), &[&from]);
    refuses(&transfer("out", "to"), "/to", &json!("ford"), &[&to]);
}

#[test]
fn steps_of_a_batch_follow_the_work() {
    let after = |n: usize, stage: &str| {
        format!("/steps/{n}/stage: {stage} does not come after the stage before it")
    };
    refuses(&batch(), "/steps", &json!([]), &["/steps: no stage was weighed"]);
    refuses(&batch(), "/steps/1/stage", &json!("cut"), &[&after(1, "cut")]);
    refuses(&batch(), "/steps/0/stage", &json!("fry"), &[&after(1, "chill")]);
    refuses(&batch(), "/from", &json!("cut"), &[&after(0, "cut")]);
    let later = with(batch(), "/from", json!("cut"));
    refuses(&later, "/steps/0/stage", &json!("fry"), &[&after(1, "chill")]);
    refuses(&with(batch(), "/steps/1/stage", json!("fry")), "/from", &json!(null), &[]);
    // A stage that nobody knows is told once, and says nothing of the order.
    let unknown = "/steps/0/out: potato has no stage \"boil\"";
    refuses(&batch(), "/steps/0/stage", &json!("boil"), &[unknown]);
    let unknown = "/steps/1/out: potato has no stage \"boil\"";
    refuses(&batch(), "/steps/1/stage", &json!("boil"), &[unknown]);
}

#[test]
fn inputs_of_a_preparation_are_those_of_the_recipe() {
    let stranger = "/inputs/1/item: dip is not made with potato";
    refuses(&preparation(), "/inputs/1/item", &json!("potato"), &[stranger]);
    let twice = "/inputs/1/item: yoghurt is listed twice";
    refuses(&preparation(), "/inputs/1/item", &json!("yoghurt"), &[twice]);
    refuses(&preparation(), "/inputs", &json!([]), &[]);
    let bought = with(preparation(), "/inputs", json!([]));
    let not_made = "/item: herbs is not made from other items";
    refuses(&bought, "/item", &json!("herbs"), &[not_made]);
}

#[test]
fn a_stock_out_ends_after_it_begins() {
    let ends = "/to: it ends before it begins";
    refuses(&stock_out(), "/to", &json!("2025-06-13T18:00:00Z"), &[ends]);
    refuses(&stock_out(), "/to", &json!("2025-06-13T17:59:59Z"), &[ends]);
    refuses(&stock_out(), "/to", &json!(null), &[]);
    refuses(&stock_out(), "/item", &json!("salt"), &["/item: there is no \"salt\" under items"]);
}

#[test]
fn a_sample_is_of_a_line_of_the_recipe() {
    let line = "/item: the recipe of fries/one has no line for herbs";
    refuses(&sample(), "/item", &json!("herbs"), &[line]);
    refuses(&sample(), "/size", &json!("two"), &["/product: there is no \"fries/two\""]);
    refuses(&sample(), "/weights", &json!([]), &["/weights: no portion was weighed"]);
}

/// The business date of 13 June begins at 4 o'clock in Berlin, which is 2 o'clock in UTC.
#[test]
fn nothing_is_thrown_away_before_the_date_it_was_made_on() {
    let catalog: Catalog = catalog();
    let on = "2025-06-13".parse().unwrap();
    let (begins, _) =
        crate::calendar::day_bounds(on, &store(&catalog).zone, store(&catalog).cut_off);
    let check = |body: &Value| check_discard(store(&catalog), on, &entry(body));
    for made in [batch(), preparation()] {
        assert_eq!(check(&made), None);
        let at = |seconds| json!(begins + chrono::TimeDelta::seconds(seconds));
        assert_eq!(check(&with(made.clone(), "/discard_at", at(0))), None);
        let flaw = check(&with(made, "/discard_at", at(-1))).unwrap();
        let says = "/discard_at: before the entry's own date, 2025-06-13, begins";
        assert_eq!(told(&[flaw]), [says]);
    }
    assert_eq!(check(&delivery()), None);
}
