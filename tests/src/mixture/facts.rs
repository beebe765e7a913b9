//! Facts of a kitchen by chance: counts, entries, what a till sends. Amounts are invented, of a
//! size that a kitchen would have.

use chrono::{Datelike, NaiveDate, Weekday};
use parings::demo::chance::Chance;
use serde_json::{Value, json};

use super::network::STORES;
use crate::night::{entry, line, staged, typed, with};

/// One of some, by chance.
pub fn pick<'a, T>(chance: &mut Chance, of: &'a [T]) -> &'a T {
    &of[number(chance, 0, of.len() - 1)]
}

/// A whole number between two, both included.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    clippy::cast_precision_loss,
    reason = "small numbers"
)]
pub fn number(chance: &mut Chance, least: usize, most: usize) -> usize {
    least + ((most - least + 1) as f64 * chance.share()) as usize
}

/// A number with a decimal between two.
fn tenths(chance: &mut Chance, least: usize, most: usize) -> String {
    format!("{}.{}", number(chance, least, most - 1), number(chance, 0, 9))
}

/// A count of a date under an id of its own: complete, or now and then with a blank line; with
/// sales typed and entries of its own now and then.
pub fn count(chance: &mut Chance, store: &str, date: NaiveDate) -> Value {
    let mut lines = vec![
        line("potato", "dry-store", &tenths(chance, 2, 10), "bag"),
        staged("potato", "cold-room", "trim", &tenths(chance, 5, 35), "kg"),
        line("bun", "dry-store", &tenths(chance, 2, 9), "case"),
        line("sauce", "cold-room", &tenths(chance, 3, 15), "l"),
    ];
    if date.weekday() == Weekday::Tue {
        lines.push(line("oil", "dry-store", &tenths(chance, 20, 80), "l"));
    }
    let complete = !chance.happens(0.15);
    if !complete {
        let blank = number(chance, 0, lines.len() - 1);
        lines.remove(blank);
    }
    let mut count = json!({ "submission_id": chance.id(), "complete": complete, "lines": lines });
    if chance.happens(0.2) {
        let units = number(chance, 50, 300);
        count["units_sold"] = json!([{ "product": "fries", "size": "one", "units": units }]);
        count["net_sales"] = json!(format!("{}.50", units * 4));
    }
    if chance.happens(0.25) {
        count["entries"] = json!(entries(chance, store, date, 2));
    }
    count
}

/// What one of several people counted.
pub fn part(chance: &mut Chance) -> Value {
    let line = match number(chance, 0, 2) {
        0 => line("potato", "dry-store", &tenths(chance, 2, 10), "bag"),
        1 => staged("potato", "cold-room", "trim", &tenths(chance, 5, 35), "kg"),
        _ => line("sauce", "cold-room", &tenths(chance, 3, 15), "l"),
    };
    json!({ "complete": false, "lines": [line] })
}

/// Answers to some or all of what was asked about a held count, as they were offered.
pub fn answers(chance: &mut Chance, held: &Value) -> Value {
    let checks = held["checks"].as_array().map(Vec::as_slice).unwrap_or_default();
    let few = number(chance, 1, checks.len().max(1));
    let answers: Vec<Value> = checks
        .iter()
        .take(few)
        .map(|check| {
            let readings = check["readings"].as_array().map_or(0, Vec::len);
            let answer = match number(chance, 0, 2) {
                0 if readings > 1 => json!({ "answer": "other_reading", "reading": 1 }),
                1 => json!({ "answer": "counted_again" }),
                _ => json!({ "answer": "as_typed" }),
            };
            with(with(answer, "check", check["id"].clone()), "reason", "The till stood still")
        })
        .collect();
    json!({ "revision": held["revision"], "answers": answers })
}

/// One to `most` entries of a date, of every kind.
pub fn entries(chance: &mut Chance, store: &str, date: NaiveDate, most: usize) -> Vec<Value> {
    (0..number(chance, 1, most)).map(|_| any_entry(chance, store, date)).collect()
}

fn any_entry(chance: &mut Chance, store: &str, date: NaiveDate) -> Value {
    let kilograms = typed(&tenths(chance, 1, 4), "kg");
    let others: Vec<_> = STORES.into_iter().filter(|other| *other != store).collect();
    let other = *pick(chance, &others);
    let made = match number(chance, 0, 9) {
        0 => entry("waste", "potato", json!({ "reason": "dropped", "quantity": kilograms })),
        1 => {
            let reason = *pick(chance, &["expired", "held-too-long", "recall", "temperature"]);
            let waste = json!({ "reason": reason, "quantity": kilograms, "stage": "trim",
                "daypart": pick(chance, &["lunch", "dinner"]) });
            entry("waste", "potato", waste)
        }
        2 => {
            let bags = typed(&number(chance, 1, 8).to_string(), "bag");
            entry("delivery", "potato", json!({ "quantity": bags, "lot": "L-7", "paid": "82.50" }))
        }
        3 => entry("delivery", "bun", json!({ "quantity": typed("4", "case") })),
        4 => entry("transfer_in", "potato", json!({ "quantity": kilograms, "from": other })),
        5 => entry("transfer_out", "potato", json!({ "quantity": kilograms, "to": other })),
        6 => {
            let steps = json!([{ "stage": "trim", "out": typed(&tenths(chance, 35, 39), "kg") }]);
            entry("batch", "potato", json!({ "put_in": typed("42", "kg"), "steps": steps }))
        }
        7 => {
            let inputs = json!([{ "item": "oil", "quantity": typed(&tenths(chance, 6, 8), "l") }]);
            entry("preparation", "sauce", json!({ "made": typed("10", "l"), "inputs": inputs }))
        }
        8 => {
            let (from, to) = (at(date, number(chance, 0, 60)), at(date, 90));
            entry("stock_out", "potato", json!({ "from": from, "to": to }))
        }
        _ => {
            let weights: Vec<_> = (0..6).map(|_| typed(&tenths(chance, 190, 215), "g")).collect();
            let weighed = json!({ "product": "fries", "size": "one", "weights": weights });
            entry("sample", "potato", weighed)
        }
    };
    with(made, "id", json!(chance.id()))
}

/// An instant of a date's afternoon.
fn at(date: NaiveDate, minute: usize) -> String {
    format!("{date}T{:02}:{:02}:00Z", 15 + minute / 60, minute % 60)
}

/// A till's batch under an id of its own, with tickets of which some are still open.
pub fn batch(chance: &mut Chance, date: NaiveDate) -> Value {
    let sales: Vec<_> = (0..number(chance, 2, 6)).map(|_| sale(chance, date)).collect();
    let tickets: Vec<_> = (0..number(chance, 1, 8)).map(|_| ticket(chance, date)).collect();
    json!({ "batch_id": chance.id().to_string(), "business_date": date,
        "sales": sales, "tickets": tickets })
}

/// A batch that sends the lines of another again with other units, and closes its tickets.
pub fn correction(chance: &mut Chance, of: &Value) -> Value {
    let mut batch = with(of.clone(), "batch_id", chance.id().to_string());
    for sale in batch["sales"].as_array_mut().into_iter().flatten() {
        sale["units"] = json!(number(chance, 0, 40));
    }
    let date = of["business_date"].as_str().unwrap_or_default().to_owned();
    for ticket in batch["tickets"].as_array_mut().into_iter().flatten() {
        ticket["handed_off"] = json!(format!("{date}T17:{:02}:30Z", number(chance, 0, 59)));
    }
    batch
}

fn sale(chance: &mut Chance, date: NaiveDate) -> Value {
    let units = number(chance, 1, 40);
    let minute = number(chance, 0, 119);
    let when =
        [json!({ "at": at(date, minute) }), json!({ "daypart": "dinner" }), json!("unknown")];
    json!({
        "line": chance.id().to_string(), "units": units, "net": format!("{}.50", units * 4),
        "code": pick(chance, &["1001", "1001", "2001", "2001", "nobody-knows"]),
        "when": pick(chance, &when), "channel": pick(chance, &["counter", "delivery"]),
        "outcome": pick(chance, &["sold", "sold", "sold", "voided_before_making",
            "refunded_after_making", "given_away", "staff_meal"]),
    })
}

fn ticket(chance: &mut Chance, date: NaiveDate) -> Value {
    let minute = number(chance, 0, 90);
    let mut ticket = json!({ "id": chance.id().to_string(), "placed": at(date, minute),
        "channel": pick(chance, &["counter", "delivery"]) });
    if chance.happens(0.8) {
        ticket["handed_off"] = json!(at(date, minute + number(chance, 2, 20)));
    }
    ticket
}
