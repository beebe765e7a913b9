use std::sync::Arc;

use proptest::prelude::*;

use super::*;
use crate::calendar::Weekday;
use crate::catalog::{Catalog, Kind, Limits, Network, Store, StoreTimeline, Timeline};
use crate::ids::StoreId;
use crate::money::{Money, UnitPrice};
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
    // Anything below zero is doubted that counts do not explain as they are.
    let settings = r#"{"title":"Chain","currency":"EUR","count_error":"0.02","sample_nights":7,
      "minimum_tickets":30,"lump":{"tickets":5,"within":10},"doubtful_tickets":"0.05",
      "limits":{"use_spreads":"1"}}"#;
    let mut catalog = Catalog::default();
    for (kind, code, text) in [
        (Kind::Settings, "network", settings),
        (Kind::Item, "potato", potato),
        (Kind::Price, "potato", price),
    ] {
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
                    samples: Samples::from_parts((amount % 3) as u64, amount % 3 * 1_010_000, 0),
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
    let one = crate::catalog::Spreads(1.into());
    let limits = Limits { use_spreads: one, ..Limits::default() };
    let per_gram = UnitPrice::new("0.0009".parse().expect("a price")).expect("a price");
    let mut all = BTreeMap::new();
    for code in ["leek", "oil", "potato"].map(item) {
        let count = |day: &Day| day.items.get(&code).and_then(|said| said.count);
        let counts: Vec<Closing> =
            nights.iter().filter_map(|(date, day)| Some((*date, count(day)?))).collect();
        for pair in counts.windows(2) {
            let (from, to) = (pair[0], pair[1]);
            let inside: Vec<SpanNight<'_>> = (1..=from.0.days_until(to.0))
                .map(|n| {
                    let on = from.0.plus_days(n);
                    let day = nights.get(&on);
                    SpanNight {
                        open: on.weekday() != Weekday::Wed,
                        sales_source: day.map(|d| d.night.sales_source).unwrap_or_default(),
                        sales: day.and_then(|d| d.night.sales),
                        short: day.is_some_and(|d| d.night.short),
                        item: day.and_then(|d| d.items.get(&code)),
                    }
                })
                .collect();
            let opening = Opening { on: from.0, count: from.1 };
            let price = (code.as_str() == "potato").then_some(per_gram);
            let mut made = span(opening, to.1, &inside, price, &limits);
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
            // Nothing is asked for in vain: a span ends on each of the dates, or did.
            let has = |nights: &Nights, on| nights.get(on).is_some_and(|n| !n.spans.is_empty());
            for on in ends {
                prop_assert!(has(&nights, on) || has(&before, on), "no span on {}", on);
            }
        }
    }

    /// Nights taken in as they stand are those that they were taken from, also in the place of others;
    /// and what is read of them is what is found by looking at every night.
    #[test]
    fn nights_are_read_as_they_stand(
        days in prop::collection::vec(days(), DATES as usize), others in prop::collection::vec(days(), 4),
        (from, more) in (0..DATES, 1..DATES),
    ) {
        let (endings, mut nights, mut taken) = (endings(), Nights::default(), Nights::default());
        for (n, day) in days.into_iter().enumerate() {
            nights.put(date(n as i64), Some(day), &endings, now()).expect("every ending");
        }
        for (n, day) in others.into_iter().enumerate() {
            taken.stands(date(2 * n as i64), Night { day, spans: BTreeMap::new() });
        }
        for (on, night) in nights.iter() {
            taken.stands(on, night.clone());
        }
        prop_assert!(taken.iter().eq(nights.iter()));
        let (from, until) = (date(from), date(from + more));
        let mut pooled: BTreeMap<ItemId, u64> = BTreeMap::new();
        for code in ["leek", "oil", "potato"].map(item) {
            prop_assert_eq!(taken.last_count(&code, until), nights.last_count(&code, until));
            prop_assert_eq!(taken.next_count(&code, from), nights.next_count(&code, from));
            let mut sure = Vec::new();
            for (on, night) in nights.iter() {
                let span = night.spans.get(&code).map(|ended| &ended.span);
                sure.extend(span.filter(|s| s.doubts.is_empty() && from <= on && on < until));
                let weighed = night.day.items.get(&code).map_or(0, |day| day.samples.count());
                if from < on && on <= until && weighed > 0 {
                    *pooled.entry(code.clone()).or_default() += weighed;
                }
            }
            sure.reverse();
            prop_assert_eq!(taken.spans_of(&code, from, until).collect::<Vec<_>>(), sure);
        }
        let found = taken.samples(from, until).into_iter().map(|(id, all)| (id, all.count()));
        prop_assert_eq!(found.collect::<BTreeMap<_, _>>(), pooled);
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

/// The store stands where its document of the date says, in the region of its district.
#[test]
fn an_ending_knows_where_the_store_stood() {
    let upper = crate::ids::DistrictId::new("upper").expect("a code");
    let valley = r#"{"title":"Upper","region":"valley"}"#;
    let valley = Timeline(vec![(date(-30), serde_json::from_str(valley).expect("a district"))]);
    let network =
        Network { districts: [(upper, valley)].into(), ..endings()[&date(0)].network().clone() };
    let of = |n| Ending::new(date(n), now(), Arc::default(), Arc::new(network.clone()));
    for (n, owner) in [(4, "brook"), (5, "hill")] {
        let at = of(n).standing().expect("a place");
        assert_eq!((at.store.as_str(), at.district.as_str()), ("ford", "upper"));
        assert_eq!((at.region.as_str(), at.owner.as_str()), ("valley", owner));
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
