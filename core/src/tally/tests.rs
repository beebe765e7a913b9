//! Rows behind a figure add up to it in every digit, whatever was recorded.

use proptest::prelude::*;
use serde_json::{Value, json};

use super::*;
use crate::calendar::BusinessDate;
use crate::catalog::{Catalog, Kind};
use crate::ids::{ItemId, StoreId};
use crate::night::{Count, Entry, EntryBody, TillBatch};
use crate::quantity::Tallied;

fn catalog() -> Catalog {
    let stage = |code: &str, standard: &str| {
        json!({ "code": code, "title": code, "standard": standard, "cap": "1.06",
            "low": "0.5", "high": "1.05" })
    };
    let documents = [
        (
            Kind::Settings,
            "network",
            json!({ "title": "Chain", "currency": "EUR",
            "count_error": "0.02", "sample_nights": 7, "minimum_tickets": 30,
            "lump": { "tickets": 5, "within": 10 }, "doubtful_tickets": "0.05" }),
        ),
        (
            Kind::Store,
            "ford",
            json!({ "title": "Ford", "district": "upper", "owner": "brook",
            "format": "counter", "zone": "Europe/Berlin",
            "open": ["mon", "tue", "wed", "thu", "fri", "sat", "sun"] }),
        ),
        (Kind::Reason, "expired", json!({ "title": "Expired", "safety": false })),
        (Kind::Reason, "recall", json!({ "title": "Recall", "safety": true })),
        (
            Kind::Item,
            "potato",
            json!({ "title": "Potatoes", "group": "food", "base": "mass",
            "rhythm": { "every": "night" },
            "packs": [{ "code": "bag", "title": "Bag",
                "holds": { "value": "22.68", "unit": "kg" } }],
            "shelves": [{ "place": "dry-store", "unit": "bag" },
                { "place": "cold-room", "stage": "chill", "unit": "kg" }],
            "stages": [stage("trim", "0.87"), stage("chill", "0.777")] }),
        ),
        (
            Kind::Item,
            "mash",
            json!({ "title": "Mash", "group": "food", "base": "mass",
            "rhythm": { "every": "night" }, "made_from": {
                "batch": { "value": "7", "unit": "kg" },
                "inputs": [{ "item": "potato", "stage": "trim",
                    "quantity": { "value": "6.1", "unit": "kg" } }] } }),
        ),
        (
            Kind::Product,
            "fries",
            json!({ "title": "Fries", "sizes": [{ "code": "one",
            "title": "One", "till_codes": ["1"], "lines": [{ "item": "potato", "stage": "chill",
                "quantity": { "value": "133.3", "unit": "g" } }] }] }),
        ),
        (
            Kind::Addition,
            "more",
            json!({ "title": "More", "till_codes": ["9"],
            "lines": [{ "item": "potato", "stage": "trim",
                "quantity": { "value": "1", "unit": "oz" } }] }),
        ),
    ];
    Catalog::from_documents(
        documents
            .map(|(kind, code, body)| (code.to_owned(), kind.read(&body).expect("a document"))),
    )
    .expect("codes")
}

fn read<T: serde::de::DeserializeOwned>(body: Value) -> T {
    serde_json::from_value(body).expect("a fact")
}

fn amount() -> impl Strategy<Value = Value> {
    (1_u32..999_999, prop::sample::select(vec!["g", "lb", "oz", "bag", "kg"]))
        .prop_map(|(n, unit)| json!({ "value": format!("0.{n:06}"), "unit": unit }))
}

fn entries() -> impl Strategy<Value = Vec<Entry>> {
    let body = (0_u8..7, amount(), amount(), any::<bool>()).prop_map(|(kind, one, two, flag)| {
        let reason = if flag { "recall" } else { "expired" };
        let stage = if flag { json!("trim") } else { Value::Null };
        let mut body = match kind {
            0 => json!({ "kind": "delivery" }),
            1 => json!({ "kind": "transfer_in", "from": "weir", "stage": stage }),
            2 => json!({ "kind": "transfer_out", "to": "weir", "stage": stage }),
            3 => json!({ "kind": "batch", "put_in": one, "steps": [{ "stage": "chill", "out": two }] }),
            4 => json!({ "kind": "preparation", "made": { "value": one["value"], "unit": "kg" } }),
            _ => json!({ "kind": "waste", "reason": reason, "stage": stage }),
        };
        body["item"] = json!(if kind == 4 { "mash" } else { "potato" });
        if ![3, 4].contains(&kind) {
            body["quantity"] = one;
        }
        read::<EntryBody>(body)
    });
    let entry = (any::<u128>(), body)
        .prop_map(|(id, body)| Entry { id: crate::ids::EntryId(uuid::Uuid::from_u128(id)), body });
    prop::collection::vec(entry, 0..12)
}

fn till() -> impl Strategy<Value = Vec<TillBatch>> {
    let sale =
        (0_u8..4, 0_u32..400, any::<bool>(), 0_u32..3).prop_map(|(line, units, void, more)| {
            json!({ "line": line.to_string(), "code": "1", "units": units, "net": "3.35",
            "additions": [{ "code": "9", "units": more }],
            "outcome": if void { "voided_before_making" } else { "sold" } })
        });
    let batch = prop::collection::vec(sale, 0..6)
        .prop_map(|sales| read::<TillBatch>(json!({ "sales": sales })));
    prop::collection::vec(batch, 0..3)
}

fn count() -> impl Strategy<Value = Option<Count>> {
    let lines = prop::collection::vec((any::<bool>(), amount()), 0..5);
    prop::option::of((lines, 0_u32..50)).prop_map(|count| {
        let (lines, units) = count?;
        let line = |(chill, quantity): (bool, Value)| match chill {
            true => json!({ "item": "potato", "place": "cold-room", "stage": "chill",
                "quantity": quantity }),
            false => json!({ "item": "potato", "place": "dry-store", "quantity": quantity }),
        };
        let lines: Vec<_> = lines.into_iter().map(line).collect();
        Some(read(json!({ "complete": false, "lines": lines, "net_sales": "81.25",
            "units_sold": [{ "product": "fries", "size": "one", "units": units }] })))
    })
}

fn facts() -> impl Strategy<Value = DayFacts> {
    (entries(), till(), count()).prop_map(|(entries, till, count)| DayFacts {
        entries,
        till,
        count,
        ..DayFacts::default()
    })
}

proptest! {
    #[test]
    fn rows_of_a_night_add_up_to_its_figures(facts in facts()) {
        let catalog = catalog();
        let settings = catalog.settings.as_ref().unwrap();
        let ford = StoreId::new("ford").unwrap();
        let date = BusinessDate::new(2026, 6, 16).unwrap();
        let day = day(&facts, &catalog, settings, &ford, &catalog.stores[&ford], date).unwrap();
        let found = contributions(&facts, &catalog).unwrap();
        for id in ["potato", "mash"].map(|id| ItemId::new(id).unwrap()) {
            let of_item = day.items.get(&id).cloned().unwrap_or_default();
            let sum = |figure: Figure| {
                let rows = figure.rows(&id, &found, &catalog).unwrap();
                rows.into_iter().map(|(_, amount)| amount).sum::<Tallied>()
            };
            // Of one night by itself; what adds up over a span is of the date where none ends.
            for figure in Figure::ALL.iter().filter(|f| f.terms().is_empty() && f.is_of_item()) {
                if let Some(value) = figure.value(&of_item, None, None) {
                    prop_assert_eq!(sum(*figure), value, "{}", figure.word());
                }
            }
            prop_assert_eq!(sum(Figure::Expected), of_item.expected);
        }
        for contribution in &found {
            prop_assert!(facts.kind(contribution.row).is_some());
            prop_assert!(facts.says(contribution.row).is_some_and(|says| !says.is_empty()));
            let item = (Kind::Item, "potato".to_owned());
            let fries = (Kind::Product, "fries".to_owned());
            let behind = facts.rests_on(contribution.row, &catalog);
            let mash = (Kind::Item, "mash".to_owned());
            prop_assert!([item, fries, mash].iter().any(|it| behind.contains(it)), "{behind:?}");
        }
        let taken: crate::money::Money = takings(&facts).into_iter().map(|(_, taken)| taken).sum();
        prop_assert_eq!(taken, day.night.sales.unwrap_or(crate::money::Money::ZERO));
    }

    /// Half a thousandth is lost in every row rounded by itself; in steps of the sum it is not.
    #[test]
    fn a_row_is_within_a_thousandth_of_its_own_amount(facts in facts()) {
        let catalog = catalog();
        let found = contributions(&facts, &catalog).unwrap();
        let potato = ItemId::new("potato").unwrap();
        for figure in Figure::ALL.iter().filter(|f| f.terms().is_empty()) {
            for (row, step) in figure.rows(&potato, &found, &catalog).unwrap() {
                let alone = found.iter().filter(|c| c.row == row && c.item == potato);
                let near = |c: &Contribution<'_>| {
                    let own = c.amount.settle().unwrap();
                    (own - step).thousandths().abs() <= 1
                };
                prop_assert!(alone.into_iter().any(near), "{row:?} of {}", figure.word());
            }
        }
    }
}
