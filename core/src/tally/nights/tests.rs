use std::sync::Arc;

use proptest::prelude::*;

use super::*;
use crate::catalog::{Catalog, Kind, Network, Store, StoreTimeline, Timeline};
use crate::ids::StoreId;
use crate::money::Money;
use crate::quantity::Tallied;
use crate::tally::{ItemDay, NightTally, SalesSource};

/// Dates of an invented store, from a Monday on.
const DATES: i64 = 9;

fn date(n: i64) -> BusinessDate {
    BusinessDate::new(2026, 3, 2).expect("a date").plus_days(n)
}

fn now() -> DateTime<Utc> {
    "2026-03-20T12:00:00Z".parse().expect("a moment")
}

fn store(owner: &str) -> Store {
    // Closed on Wednesdays.
    let text = format!(
        r#"{{"title":"Ford","district":"upper","owner":"{owner}","format":"counter",
          "zone":"Europe/Berlin","open":["mon","tue","thu","fri","sat","sun"]}}"#
    );
    serde_json::from_str(&text).expect("a store")
}

/// The reference data of every date; the store changes hands on the sixth.
fn endings() -> BTreeMap<BusinessDate, Ending> {
    let price = r#"{"price":"0.90","per":{"value":"1","unit":"kg"}}"#;
    let potato = r#"{"title":"Potatoes","group":"food","base":"mass","rhythm":{"every":"night"}}"#;
    let mut catalog = Catalog::default();
    for (kind, code, text) in [(Kind::Item, "potato", potato), (Kind::Price, "potato", price)] {
        let document = kind.read(&mut serde_json::Deserializer::from_str(text)).expect("one");
        catalog.put(code, document).expect("a code");
    }
    let versions =
        Timeline(vec![(date(-30), Some(store("brook"))), (date(5), Some(store("hill")))]);
    let timeline = StoreTimeline { store: StoreId::new("ford").expect("a code"), versions };
    let network = Arc::new(Network { stores: vec![timeline], districts: BTreeMap::new() });
    let catalog = Arc::new(catalog);
    (0..DATES)
        .map(|n| {
            let of = Ending::new(date(n), now(), Arc::clone(&catalog), Arc::clone(&network));
            (date(n), of)
        })
        .collect()
}

fn item(code: &str) -> ItemId {
    ItemId::new(code).expect("a code")
}

/// What happened on a night: of each of three items whether anything did, and whether it was counted.
fn days() -> impl Strategy<Value = Day> {
    let one = prop::option::of((0..90_000_000_i64, prop::option::of(0..90_000_000_i64)));
    (prop::array::uniform3(one), prop::option::weighted(0.8, 0..9_000_000_i64), any::<bool>())
        .prop_map(|(items, sales, short)| {
            let items = ["leek", "oil", "potato"].into_iter().zip(items);
            let items = items.filter_map(|(code, said)| {
                let (amount, closing) = said?;
                let grams = Tallied::from_thousandths;
                let count = closing.map(|c| Counted { closing: grams(c), sd: grams(c / 50) });
                let day = ItemDay {
                    received: grams(amount),
                    expected: grams(amount / 2),
                    expected_cost: Money::from_ten_thousandths(amount / 2_000),
                    wasted: grams(amount / 9),
                    count,
                    ..ItemDay::default()
                };
                Some((item(code), day))
            });
            let night = NightTally {
                sales: sales.map(Money::from_ten_thousandths),
                sales_source: if sales.is_some() { SalesSource::Feed } else { SalesSource::None },
                short,
                ..NightTally::default()
            };
            Day { items: items.collect(), night, ..Day::default() }
        })
}

/// The spans between the counts of every item, worked out from nothing.
fn plainly(nights: &BTreeMap<BusinessDate, Day>) -> BTreeMap<SpanEnd, ItemSpan> {
    let endings = endings();
    let mut all = BTreeMap::new();
    for code in ["leek", "oil", "potato"].map(item) {
        let count = |day: &Day| day.items.get(&code).and_then(|said| said.count);
        let counts: Vec<Closing> =
            nights.iter().filter_map(|(date, day)| Some((*date, count(day)?))).collect();
        for pair in counts.windows(2) {
            let (from, to) = (pair[0], pair[1]);
            let ending = &endings[&to.0];
            let inside: Vec<SpanNight<'_>> = (1..=from.0.days_until(to.0))
                .map(|n| {
                    let on = from.0.plus_days(n);
                    let day = nights.get(&on);
                    SpanNight {
                        open: ending.is_open(on),
                        sales_source: day.map(|d| d.night.sales_source).unwrap_or_default(),
                        sales: day.and_then(|d| d.night.sales),
                        short: day.is_some_and(|d| d.night.short),
                        item: day.and_then(|d| d.items.get(&code)),
                    }
                })
                .collect();
            let opening = Opening { on: from.0, count: from.1 };
            let price = (code.as_str() == "potato").then(|| ending.price(&code)).flatten();
            let mut made = span(opening, to.1, &inside, price, ending.limits());
            let owner = |on: BusinessDate| on >= date(5);
            if owner(from.0.succ()) != owner(to.0) {
                (made.sales, made.owner_changed) = (None, true);
            }
            all.insert((code.clone(), to.0), made);
        }
    }
    all
}

fn spans(nights: &Nights) -> BTreeMap<SpanEnd, ItemSpan> {
    let all = nights.iter().flat_map(|(date, night)| {
        night.spans.iter().map(move |(item, ended)| ((item.clone(), date), ended.span.clone()))
    });
    all.collect()
}

proptest! {
    /// Nights put in one by one, in any order, again and again, and taken out, have the spans of a
    /// plain fold over what stands in the end; and a change tells every night that it changed.
    #[test]
    fn nights_in_any_order_have_the_spans_of_a_plain_fold(
        steps in prop::collection::vec((0..DATES, prop::option::weighted(0.9, days())), 1..24),
    ) {
        let endings = endings();
        let (mut nights, mut stand) = (Nights::default(), BTreeMap::new());
        for (n, day) in steps {
            let before = nights.clone();
            let ends = nights.ends(date(n), day.as_ref());
            let asked: BTreeMap<_, _> =
                ends.iter().map(|date| (*date, endings[date].clone())).collect();
            let change = nights.put(date(n), day.clone(), &asked, now()).expect("every ending");
            match day {
                Some(day) => stand.insert(date(n), day),
                None => stand.remove(&date(n)),
            };
            prop_assert_eq!(spans(&nights), plainly(&stand));
            for on in (0..DATES).map(date).filter(|on| !change.nights.contains(on)) {
                prop_assert_eq!(before.get(on), nights.get(on), "{} changed untold", on);
            }
            let (was, is) = (spans(&before), spans(&nights));
            let restated: BTreeSet<SpanEnd> = was
                .iter()
                .filter(|(end, span)| {
                    span.expected.is_some() && is.get(*end).is_some_and(|is| is != *span)
                })
                .map(|(end, _)| end.clone())
                .collect();
            prop_assert_eq!(change.restated.iter().cloned().collect::<BTreeSet<_>>(), restated);
        }
    }

    /// What the checks are given of a count that is not saved yet is what stands once it is.
    #[test]
    fn what_would_end_is_what_ends(
        before in prop::collection::vec(days(), 1..8), last in days(), again in days(),
    ) {
        let endings = endings();
        let (mut nights, on) = (Nights::default(), date(before.len() as i64));
        for (n, day) in before.into_iter().enumerate() {
            nights.put(date(n as i64), Some(day), &endings, now()).expect("every ending");
        }
        nights.put(on, Some(again), &endings, now()).expect("every ending");
        let would = nights.would_end(&endings[&on], &last);
        nights.put(on, Some(last), &endings, now()).expect("every ending");
        let ended = &nights.get(on).expect("a night").spans;
        let ended: BTreeMap<_, _> =
            ended.iter().map(|(item, ended)| (item.clone(), ended.span.clone())).collect();
        prop_assert_eq!(would, ended);
    }
}

#[test]
fn reference_data_that_are_missing_are_named() {
    let counted = |n| {
        let count = Counted { closing: Tallied::from_thousandths(n), sd: Tallied::ZERO };
        let day = ItemDay { count: Some(count), ..ItemDay::default() };
        Day { items: [(item("potato"), day)].into(), ..Day::default() }
    };
    let mut nights = Nights::default();
    nights.counted_before(
        item("potato"),
        (date(0), Counted { closing: Tallied::ZERO, sd: Tallied::ZERO }),
    );
    let put = nights.put(date(2), Some(counted(1)), &BTreeMap::new(), now());
    assert_eq!(put, Err(NoEnding(date(2))));
}
