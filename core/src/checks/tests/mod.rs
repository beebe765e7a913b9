//! Each kind of check with the trade's thresholds, which are common practice and have no source.
//! The numbers are invented worked examples.

mod answers;
mod around;
mod clock;
mod copies;
mod expect;
mod merge;
mod slips;
mod stock;

use std::collections::BTreeMap;

use chrono::{DateTime, Utc};
use rust_decimal::Decimal;
use serde_json::{Value, json};

use super::*;
use crate::calendar::BusinessDate;
use crate::catalog::{Catalog, Limits};
use crate::ids::{EntryId, ItemId, StoreId};
use crate::night::{Count, CountLine, Entry};
use crate::quantity::Tallied;
use crate::tally::{
    Counted, Day, DayFacts, ItemDay, ItemSpan, Opening, SalesSource, SpanNight, span,
};

/// A count of Friday 2025-06-13 at Ford, in Berlin, sent at 22:40 by its clock; the store trades
/// from 11:00 to 22:00. Each test changes what it is about.
struct Scene {
    catalog: Catalog,
    limits: Limits,
    id: StoreId,
    date: BusinessDate,
    now: DateTime<Utc>,
    count: Count,
    facts: DayFacts,
    day: Day,
    items: BTreeMap<ItemId, ItemPast>,
    before: Vec<(BusinessDate, Vec<CountLine>)>,
}

fn at(text: &str) -> DateTime<Utc> {
    text.parse().expect(text)
}

fn date(text: &str) -> BusinessDate {
    text.parse().expect(text)
}

fn code(text: &str) -> ItemId {
    text.parse().expect(text)
}

/// Thousandths of a gram in grams.
fn grams(grams: i64) -> Tallied {
    Tallied::from_thousandths(grams * 1_000)
}

fn catalog() -> Catalog {
    use crate::catalog::Kind::{Item, Place, Price, Store};
    let one = |title: &str, unit: &str| {
        json!({ "title": title, "group": "food", "base": "mass", "rhythm": { "every": "night" },
            "shelves": [{ "place": "cold-room", "unit": unit }] })
    };
    let per_kg = |price: &str| json!({ "price": price, "per": { "value": "1", "unit": "kg" } });
    let mut documents = vec![
        (
            Store,
            "ford",
            json!({ "title": "Ford", "district": "upper", "owner": "brook", "format": "counter",
                "zone": "Europe/Berlin", "open": ["mon", "tue", "wed", "thu", "fri", "sat"],
                "hours": { "from": "11:00", "to": "22:00" } }),
        ),
        (Place, "cold-room", json!({ "title": "Cold room", "turn": 1 })),
        (Place, "dry-store", json!({ "title": "Dry store", "turn": 2 })),
        (
            Item,
            "potato",
            json!({ "title": "Potatoes", "group": "food", "base": "mass",
                "rhythm": { "every": "night" },
                "packs": [{ "code": "bag", "title": "Bag",
                    "holds": { "value": "22.68", "unit": "kg" } }],
                "pans": [{ "code": "deep", "title": "Deep pan",
                    "tare": { "value": "1.2", "unit": "kg" } }],
                "stages": [{ "code": "ready", "title": "Ready", "standard": "0.8", "cap": "0.9",
                    "low": "0.7", "high": "0.85" }],
                "shelves": [{ "place": "dry-store", "unit": "bag" },
                    { "place": "cold-room", "stage": "ready", "unit": "kg" }] }),
        ),
        (Price, "potato", per_kg("0.90")),
        (Item, "beans", one("Beans", "kg")),
        (Price, "beans", per_kg("2.00")),
        (
            Item,
            "buns",
            json!({ "title": "Buns", "group": "food", "base": "count",
                "rhythm": { "every": "night" },
                "packs": [{ "code": "tray", "title": "Tray",
                    "holds": { "value": "48", "unit": "each" } },
                    { "code": "dolly", "title": "Dolly",
                    "holds": { "value": "10", "unit": "tray" } }],
                "shelves": [{ "place": "dry-store", "unit": "tray" }] }),
        ),
        (Price, "buns", json!({ "price": "0.20", "per": { "value": "1", "unit": "each" } })),
    ];
    for tub in ["basil", "chives", "cress", "dill", "mint", "parsley"] {
        documents.push((Item, tub, one(tub, "g")));
        documents.push((Price, tub, per_kg("20.00")));
    }
    let read = |(kind, code, body): (crate::catalog::Kind, &str, Value)| {
        (code.to_owned(), kind.read(&body).expect(code))
    };
    Catalog::from_documents(documents.into_iter().map(read)).unwrap()
}

/// A line as JSON: item, place, value, unit.
fn line(item: &str, place: &str, value: &str, unit: &str) -> Value {
    json!({ "item": item, "place": place, "quantity": { "value": value, "unit": unit } })
}

fn count(lines: &[Value]) -> Count {
    serde_json::from_value(json!({ "complete": false, "lines": lines })).unwrap()
}

/// A span of one night, in grams: what it opened with, what came, what should have been used, what
/// stood there in the end; each count known to 1 % or 100 g.
fn one_night(opening: i64, received: i64, due: i64, closing: i64) -> ItemSpan {
    let counted =
        |closing: i64| Counted { closing: grams(closing), sd: grams(closing / 100 + 100) };
    let item = ItemDay { received: grams(received), expected: grams(due), ..ItemDay::default() };
    let night = SpanNight {
        open: true,
        sales_source: SalesSource::Feed,
        sales: None,
        short: false,
        item: Some(&item),
    };
    let opening = Opening { on: date("2025-06-12"), count: counted(opening) };
    span(opening, counted(closing), &[night], None, &Limits::default())
}

/// Fourteen nights whose variances are 0, ±200 and ±400 g: median 0, MAD 200 g, spread 297 g.
fn quiet_nights() -> Vec<ItemSpan> {
    let off = [0, 200, -200, 400, -400, 200, -200];
    off.iter().chain(&off).map(|off| one_night(40_000, 0, 18_000, 22_000 - off)).collect()
}

impl Scene {
    fn new(lines: &[Value]) -> Self {
        Self {
            catalog: catalog(),
            limits: Limits::default(),
            id: "ford".parse().unwrap(),
            date: date("2025-06-13"),
            now: at("2025-06-13T20:40:00Z"),
            count: count(lines),
            facts: DayFacts::default(),
            day: Day::default(),
            items: BTreeMap::new(),
            before: Vec::new(),
        }
    }

    /// An item with quiet nights behind it, whose span ends with this count.
    fn with(mut self, item: &str, ends: ItemSpan, past: Vec<ItemSpan>) -> Self {
        let past = past.iter().map(PastUse::from).collect();
        self.items.insert(code(item), ItemPast { ends: Some(ends), past });
        self
    }

    /// Counts before this one, a day apart, the newest first.
    fn after(mut self, counts: impl IntoIterator<Item = Count>) -> Self {
        let dated = counts.into_iter().enumerate();
        self.before = dated.map(|(n, c)| (self.date.plus_days(-1 - n as i64), c.lines)).collect();
        self
    }

    fn given(&self) -> Given<'_> {
        Given {
            items: self.items.clone(),
            before: &self.before,
            ..Given::new(
                (&self.catalog, &self.limits),
                (&self.id, &self.catalog.stores[&self.id]),
                self.date,
                self.now,
                &self.count,
                (&self.facts, &self.day),
            )
        }
    }

    /// What is found of a kind.
    fn found(&self, kind: CheckKind) -> Vec<Check> {
        of(&self.given(), kind)
    }
}

fn of(given: &Given<'_>, kind: CheckKind) -> Vec<Check> {
    night(given).into_iter().filter(|check| check.kind == kind).collect()
}

fn kinds(checks: &[Check]) -> Vec<&'static str> {
    checks.iter().map(|check| check.kind.word()).collect()
}

fn entry(n: u128, body: Value) -> Entry {
    let id = EntryId(uuid::Uuid::from_u128(n));
    Entry { id, body: serde_json::from_value(body).unwrap() }
}

/// What may be typed for each reading of a check.
fn offered(check: &Check) -> Vec<String> {
    check.readings.iter().map(|reading| reading.quantity.to_string()).collect()
}

fn d(text: &str) -> Decimal {
    text.parse().expect(text)
}
