//! What is gathered equals a plain fold over the same nights, and the cost over sales is what its
//! definition says. All examples are invented.

use std::collections::BTreeSet;

use proptest::prelude::*;
use rust_decimal::Decimal;

use super::*;
use crate::calendar::{Periods, Weekday};
use crate::catalog::{Catalog, District, Kind, Store, StoreTimeline, Timeline};
use crate::ids::{DaypartId, DistrictId, StoreId};
use crate::money::Money;
use crate::quantity::Tallied;
use crate::rollup::{
    By, CountEnds, Covered, DaypartSum, Headline, ItemSum, Measures, NightSum, WasteKey,
    WasteLines, Week,
};
use crate::tally::pack::{Dictionary, pack};
use crate::tally::{
    Counted, Day, DaypartKey, EndedSpan, Ending, ItemDay, Night, NightTally, Nights as Fold,
    SalesSource, WasteLine,
};
use crate::tickets::{Seconds, TicketTally};

/// Nights that tallies are of, from a Monday on; what is asked for lies within.
const NIGHTS: i64 = 18;

fn date(n: i64) -> BusinessDate {
    BusinessDate::new(2026, 3, 2).expect("a date").plus_days(n)
}

fn item(code: &str) -> ItemId {
    ItemId::new(code).expect("a code")
}

fn store(code: &str) -> StoreId {
    StoreId::new(code).expect("a code")
}

/// Noon of the thirteenth night's date: that night is not over.
fn now() -> DateTime<Utc> {
    "2026-03-14T12:00:00Z".parse().expect("a moment")
}

fn every(item: &ItemId) -> Every {
    if item.as_str() == "oil" { Every::Week } else { Every::Night }
}

/// Ford stays where it is; mill moves to another district with its tenth night and is sold with its
/// fourteenth.
fn network() -> Network {
    let said = |district: &str, owner: &str, format: &str| -> Option<Store> {
        let text = format!(
            r#"{{"title":"A store","district":"{district}","owner":"{owner}","format":"{format}",
              "zone":"Europe/Berlin","open":["mon","tue","thu","fri","sat","sun"]}}"#
        );
        serde_json::from_str(&text).expect("a store")
    };
    let versions = |all: Vec<(i64, Option<Store>)>| {
        Timeline(all.into_iter().map(|(n, said)| (date(n), said)).collect())
    };
    let district = |region: &str| -> Timeline<District> {
        let text = format!(r#"{{"title":"A district","region":"{region}"}}"#);
        Timeline(vec![(date(-90), serde_json::from_str(&text).expect("a district"))])
    };
    let id = |code: &str| DistrictId::new(code).expect("a code");
    let mill = vec![
        (-90, said("upper", "hill", "kiosk")),
        (9, said("lower", "hill", "kiosk")),
        (13, said("lower", "brook", "kiosk")),
    ];
    Network {
        stores: vec![
            StoreTimeline {
                store: store("ford"),
                versions: versions(vec![(-90, said("upper", "brook", "counter"))]),
            },
            StoreTimeline { store: store("mill"), versions: versions(mill) },
        ],
        districts: [(id("upper"), district("valley")), (id("lower"), district("coast"))].into(),
    }
}

/// Potatoes are kept everywhere and counted every night, oil on Sundays; buns are the kiosk's alone.
fn kept(store: &str) -> BTreeSet<ItemId> {
    let all = if store == "mill" { vec!["bun", "oil", "potato"] } else { vec!["oil", "potato"] };
    all.into_iter().map(item).collect()
}

fn catalog() -> Catalog {
    let price = r#"{"price":"0.90","per":{"value":"1","unit":"kg"}}"#;
    let good = r#"{"title":"Food","group":"food","base":"mass","rhythm":{"every":"night"}}"#;
    let mut catalog = Catalog::default();
    // Buns have no price.
    for code in ["bun", "oil", "potato"] {
        let documents = [(Kind::Item, good), (Kind::Price, price)];
        for (kind, text) in documents.into_iter().take(if code == "bun" { 1 } else { 2 }) {
            let document = kind.read(&mut serde_json::Deserializer::from_str(text)).expect("one");
            catalog.put(code, document).expect("a code");
        }
    }
    catalog
}

/// Every night of every store that has any.
type Chain = BTreeMap<(StoreId, BusinessDate), Night>;

/// Joins days to spans, store by store.
fn joined(days: Vec<((&'static str, i64), Day)>) -> Chain {
    let (network, catalog) = (network(), Arc::new(catalog()));
    let mut chain = Chain::new();
    for timeline in &network.stores {
        let own = Arc::new(Network { stores: vec![timeline.clone()], ..network.clone() });
        let endings = (0..NIGHTS).map(|n| {
            let of = Ending::new(date(n), now(), Arc::clone(&catalog), Arc::clone(&own));
            (date(n), of)
        });
        let (endings, mut fold) = (endings.collect(), Fold::default());
        for ((_, n), day) in days.iter().filter(|((s, _), _)| *s == timeline.store.as_str()) {
            fold.put(date(*n), Some(day.clone()), &endings, now()).expect("every ending");
        }
        let nights = fold.iter().map(|(on, night)| ((timeline.store.clone(), on), night.clone()));
        chain.extend(nights.collect::<Vec<_>>());
    }
    chain
}

fn gathered(
    chain: &Chain,
    plan: Plan<'_>,
    turn: usize,
    waiting: &BTreeSet<(StoreId, BusinessDate)>,
) -> Vec<Gathered> {
    gathered_by(chain, plan, turn, waiting, &[])
}

/// Of the weeks that begin on those Mondays the nights are added up beforehand, where a store stood in
/// one place.
fn gathered_by(
    chain: &Chain,
    plan: Plan<'_>,
    turn: usize,
    waiting: &BTreeSet<(StoreId, BusinessDate)>,
    mondays: &[BusinessDate],
) -> Vec<Gathered> {
    let (network, mut dictionary) = (network(), Dictionary::default());
    let place = |store: &StoreId, on: BusinessDate| {
        let timeline = network.stores.iter().find(|t| t.store == *store).expect("a store");
        network.standing(timeline, on).expect("a place")
    };
    let mut gathering = Gathering::new(plan, &network, every);
    waiting.iter().for_each(|(store, on)| gathering.waits(store.as_str(), *on));
    let mut all: Vec<_> = chain.iter().collect();
    let turn = turn % all.len().max(1);
    all.rotate_left(turn);
    let mut weeks: BTreeMap<(&StoreId, BusinessDate), Week> = BTreeMap::new();
    for ((store, on), night) in all {
        let at = place(store, *on);
        if !plan.scope.holds(&at) {
            continue;
        }
        let packed = pack(*on, night).expect("small figures");
        let codes = dictionary.read(&packed.codes.counted, &packed.codes.others).expect("codes");
        let monday = week_start(*on);
        if mondays.contains(&monday) && (0..7).all(|n| place(store, monday.plus_days(n)) == at) {
            let week = weeks.entry((store, monday)).or_insert_with(|| Week::of(monday));
            week.night(*on, &codes, &packed.bytes).expect("a night of the week");
            continue;
        }
        let child = plan.level.map_or("", |level| level.of(&at));
        let (store, bytes) = (store.as_str(), packed.bytes.as_slice());
        let row = Row { store, date: *on, child, codes: &codes, bytes };
        gathering.night(row).expect("a night");
    }
    for ((store, date), week) in weeks {
        let at = place(store, date);
        let packed = week.pack().expect("small figures");
        let codes = dictionary.read("", &packed.codes).expect("codes");
        let child = plan.level.map_or("", |level| level.of(&at));
        let (store, bytes) = (store.as_str(), packed.bytes.as_slice());
        gathering.week(Row { store, date, child, codes: &codes, bytes }).expect("a week");
    }
    gathering.finish(now())
}

/// The first date of which portions weighed speak for a bucket: over so many nights up to its end they
/// are pooled, and over all of its own.
fn sampled_since(plan: &Plan<'_>, bucket: DateSpan) -> BusinessDate {
    let nights = (0..i64::from(plan.sample_nights)).map(|back| bucket.to().plus_days(-back));
    nights.chain([bucket.from()]).min().expect("a date")
}

/// What became of the nights of a scope and its children, from the definitions and nothing else.
fn plain_nights(
    chain: &Chain,
    plan: Plan<'_>,
    waiting: &BTreeSet<(StoreId, BusinessDate)>,
) -> BTreeMap<(Option<String>, BusinessDate), Nights> {
    let network = network();
    let mut all: BTreeMap<_, Nights> = BTreeMap::new();
    for bucket in plan.buckets {
        all.insert((None, bucket.from()), Nights::default());
        for (timeline, on) in
            network.stores.iter().flat_map(|t| bucket.iter().map(move |on| (t, on)))
        {
            let at = network.standing(timeline, on).expect("a place");
            if !plan.scope.holds(&at) {
                continue;
            }
            let key = (timeline.store.clone(), on);
            let night = chain.get(&key).map(|night| &night.day.night);
            let counted = night.filter(|night| night.counted);
            let mut one = Nights::default();
            if on >= date(12) && counted.is_none() {
                one.to_come = u64::from(on.weekday() != Weekday::Wed);
            } else if on.weekday() == Weekday::Wed {
                one.closed = 1;
            } else {
                one.expected = 1;
                one.short = u64::from(night.is_some_and(|night| night.short));
                match counted {
                    Some(night) => {
                        one.counted = 1;
                        one.partial = u64::from(night.partial);
                        one.left_out = u64::from(night.sales.is_none());
                        one.items_left_out = night.items_left_out;
                    }
                    None => {
                        one.missing = 1;
                        one.held = u64::from(waiting.contains(&key));
                    }
                }
            }
            let child = plan.level.map(|level| level.of(&at).to_owned());
            for child in BTreeSet::from([None, child]) {
                let sum = all.entry((child, bucket.from())).or_default();
                *sum = sum.merge(one);
            }
        }
    }
    all
}

/// The same, from the definitions and nothing else.
fn plainly(chain: &Chain, plan: Plan<'_>) -> BTreeMap<(Option<String>, BusinessDate), Sum> {
    let network = network();
    let mut sums: BTreeMap<(Option<String>, BusinessDate), Sum> = BTreeMap::new();
    let mut covered: BTreeMap<_, BTreeSet<(StoreId, BusinessDate)>> = BTreeMap::new();
    for bucket in plan.buckets {
        sums.insert((None, bucket.from()), Sum::default());
    }
    for ((store, on), night) in chain {
        let timeline = network.stores.iter().find(|t| t.store == *store).expect("a store");
        let at = network.standing(timeline, *on).expect("a place");
        let bucket = plan.buckets.iter().find(|bucket| bucket.contains(*on));
        let Some(bucket) = bucket.filter(|_| plan.scope.holds(&at)) else { continue };
        let child = plan.level.map(|level| level.of(&at).to_owned());
        for child in BTreeSet::from([None, child]) {
            let key = (child, bucket.from());
            // Of one item that is asked for its own use and waste, and everything else of the night.
            let asked = |id: &&ItemId| plan.item.is_none_or(|only| only == *id);
            let mut day = Day { items: BTreeMap::new(), ..night.day.clone() };
            if let Some(only) = plan.item {
                let item = night.day.items.get(only).cloned().unwrap_or_default();
                day.night.wasted_cost = item.wasted_cost;
                day.night.wasted_safety_cost = item.wasted_safety_cost;
            }
            let mut part = Sum { night: NightSum::of(&day), ..Sum::default() };
            for (id, day) in night.day.items.iter().filter(|(id, _)| asked(id)) {
                let sum = ItemSum { samples: Samples::default(), ..ItemSum::of_day(day) };
                part.items.insert(id.clone(), sum);
                for line in &day.waste {
                    let WasteLine { stage, reason, safety, daypart, amount, cost } = line.clone();
                    let kind = WasteKey { reason, safety, stage, daypart };
                    let lines = part.waste.entry(kind).or_default();
                    *lines = lines.clone().merge(&WasteLines { amount, cost, lines: 1 });
                }
            }
            for id in night.day.kept.iter().filter(asked) {
                let sales = night.day.night.sales;
                part.items.entry(id.clone()).or_default().kept = crate::rollup::KeptSum {
                    nights: 1,
                    sales: sales.unwrap_or_default(),
                    sales_nights: u64::from(sales.is_some()),
                };
            }
            for (id, EndedSpan { span, restated_at }) in
                night.spans.iter().filter(|(id, _)| asked(id))
            {
                let mut sum = ItemSum::of_span(store, id, *on, span);
                sum.owner_changed = u64::from(span.owner_changed);
                sum.restated = u64::from(restated_at.is_some());
                let inside: Vec<BusinessDate> = (1..=span.opened_on.days_until(*on))
                    .map(|n| span.opened_on.plus_days(n))
                    .filter(|on| bucket.contains(*on) && timeline.is_open(*on))
                    .collect();
                if span.sales.is_some() && span.doubts.is_empty() {
                    let mut cover = |variance: bool| {
                        for every in [None, Some(every(id))] {
                            let nights = covered.entry((key.clone(), every, variance));
                            let nights = nights.or_default();
                            nights.extend(inside.iter().map(|on| (store.clone(), *on)));
                        }
                    };
                    if span.used_cost.is_some() {
                        sum.food.nights = inside.len() as u64;
                        cover(false);
                    }
                    if span.variance_cost.is_some() && span.expected.is_some() {
                        sum.against_sales.nights = inside.len() as u64;
                        cover(true);
                    }
                }
                let all = part.items.entry(id.clone()).or_default();
                *all = std::mem::take(all).merge(&sum);
            }
            for (of, tally) in &night.day.dayparts {
                part.dayparts.insert(of.clone(), DaypartSum::of(tally.clone()));
            }
            let sum = sums.entry(key).or_default();
            *sum = std::mem::take(sum).merge(&part);
        }
    }
    for ((key, every, variance), nights) in covered {
        let sum = sums.entry(key).or_default();
        let of = match every {
            None => &mut sum.covered,
            Some(every) => sum.rhythms.entry(every).or_default(),
        };
        *(if variance { &mut of.variance } else { &mut of.food }) = nights.len() as u64;
    }
    for ((child, from), sum) in &mut sums {
        let bucket = plan.buckets.iter().find(|bucket| bucket.from() == *from).expect("one");
        let since = sampled_since(&plan, *bucket);
        for ((store, on), night) in chain {
            let timeline = network.stores.iter().find(|t| t.store == *store).expect("a store");
            let at = network.standing(timeline, *on).expect("a place");
            let own = plan.level.map(|level| level.of(&at).to_owned());
            let is_here = plan.scope.holds(&at) && (child.is_none() || own == *child);
            if !is_here || *on < since || *on > bucket.to() {
                continue;
            }
            for (id, day) in &night.day.items {
                if let Some(item) = sum.items.get_mut(id) {
                    item.samples = item.samples.merge(day.samples);
                }
            }
        }
        for item in sum.items.values_mut() {
            item.compared.ends = CountEnds::settled(item.compared.ends.squares());
        }
    }
    sums
}

fn day(
    store: &'static str,
    items: Vec<(&'static str, i64, Option<i64>)>,
    sales: Option<i64>,
) -> Day {
    let grams = Tallied::from_thousandths;
    let line = |amount: i64| WasteLine {
        stage: None,
        reason: crate::ids::ReasonId::new("expired").expect("a code"),
        safety: false,
        daypart: None,
        amount: grams(amount),
        cost: Money::from_ten_thousandths(amount / 1_000),
    };
    let items = items.into_iter().map(|(code, amount, closing)| {
        let count = closing.map(|c| Counted { closing: grams(c), sd: grams(c / 40) });
        let mut samples = Samples::default();
        if amount % 3 == 0 {
            let weight = crate::quantity::Base::new((190 + amount % 30).into());
            samples.add(weight, crate::quantity::Base::new(200.into()));
        }
        let said = ItemDay {
            received: grams(amount),
            expected: grams(amount / 2),
            expected_cost: Money::from_ten_thousandths(amount / 2_000),
            wasted: grams(amount / 9),
            wasted_cost: Money::from_ten_thousandths(amount / 9_000),
            wasted_safety: grams(amount / 20),
            wasted_safety_cost: Money::from_ten_thousandths(amount / 20_000),
            waste: vec![line(amount / 9)],
            count,
            samples,
            ..ItemDay::default()
        };
        (item(code), said)
    });
    let items: BTreeMap<ItemId, ItemDay> = items.collect();
    let turn = sales.unwrap_or(1).unsigned_abs();
    let tickets = TicketTally {
        orders: 2,
        with_target: turn % 3,
        times: [Seconds(300), Seconds(sales.unwrap_or_default().unsigned_abs() as u32 % 4_000)]
            .into_iter()
            .collect(),
        ..TicketTally::default()
    };
    let key = DaypartKey { daypart: DaypartId::outside(), channel: crate::ids::ChannelId::every() };
    let night = NightTally {
        counted: !turn.is_multiple_of(5),
        partial: turn.is_multiple_of(2),
        short: turn.is_multiple_of(7),
        items_left_out: turn % 4,
        wasted_cost: items.values().map(|item| item.wasted_cost).sum(),
        wasted_safety_cost: items.values().map(|item| item.wasted_safety_cost).sum(),
        sales: sales.map(Money::from_ten_thousandths),
        sales_source: if sales.is_some() { SalesSource::Feed } else { SalesSource::None },
        ..NightTally::default()
    };
    Day {
        items,
        dayparts: [(key, crate::tally::DaypartTally { tickets, ..<_>::default() })].into(),
        night,
        kept: kept(store),
        ..Day::default()
    }
}

fn chain() -> impl Strategy<Value = Chain> {
    let amounts = prop::array::uniform3((0..90_000_000_i64, prop::bool::weighted(0.8)));
    let night =
        prop::option::weighted(0.9, (amounts, prop::option::weighted(0.9, 0..9_000_000_i64)));
    prop::collection::vec(night, 2 * NIGHTS as usize).prop_map(|nights| {
        let all = nights.into_iter().enumerate().filter_map(|(n, said)| {
            let (store, n) = (["ford", "mill"][n % 2], n as i64 / 2);
            let (amounts, sales) = said?;
            let items = ["bun", "oil", "potato"].into_iter().zip(amounts);
            let items = items.filter(|(code, _)| kept(store).contains(&item(code)));
            let items = items.map(|(code, (amount, counted))| {
                let counted = counted && (code != "oil" || n % 7 == 6);
                (code, amount, counted.then_some(amount / 3))
            });
            Some(((store, n), day(store, items.collect(), sales)))
        });
        joined(all.collect())
    })
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(96))]

    /// Any span, cut in any way, with gaps, moves between districts and a change of owner.
    #[test]
    fn what_is_gathered_equals_a_plain_fold(
        chain in chain(), from in 0..10_i64, more in 0..16_i64, turn in 0..40_usize,
        by in prop::sample::select(vec![By::Day, By::Week, By::None]),
        (scope, level) in prop::sample::select(vec![
            ("network", Some(Level::Region)), ("network", None), ("district:upper", Some(Level::Store)),
            ("owner:brook", Some(Level::Store)), ("region:coast", Some(Level::District)),
            ("store:mill", None),
        ]),
        only in prop::option::of(prop::sample::select(vec!["bun", "oil", "potato"])),
        waits in prop::collection::btree_set((prop::sample::select(vec!["ford", "mill"]), 0..NIGHTS), 0..6),
        sample_nights in 1..6_u32,
    ) {
        let span = DateSpan::new(date(from), date(from + more)).expect("in order");
        let buckets: Vec<_> =
            by.buckets(span, &Periods::Months).into_iter().map(|bucket| bucket.span).collect();
        let scope: Scope = scope.parse().expect("a scope");
        let only = only.map(item);
        let plan =
            Plan { scope: &scope, level, buckets: &buckets, item: only.as_ref(), sample_nights };
        let waiting = waits.into_iter().map(|(code, n)| (store(code), date(n))).collect();
        // Night by night, and with whole weeks added up beforehand.
        for mondays in [Vec::new(), Gathering::weeks(&plan)] {
            let (mut sums, mut nights) =
                (plainly(&chain, plan), plain_nights(&chain, plan, &waiting));
            for found in gathered_by(&chain, plan, turn, &waiting, &mondays) {
                let key = (found.child.clone(), found.bucket.from());
                prop_assert_eq!(&found.sum, &sums.remove(&key).unwrap_or_default(), "{:?}", key);
                prop_assert_eq!(Some(found.nights), nights.remove(&key), "{:?}", key);
            }
            prop_assert!(sums.is_empty(), "not gathered: {:?}", sums.keys());
            prop_assert!(nights.is_empty(), "not gathered: {:?}", nights.keys());
        }
        let first = buckets.iter().map(|bucket| sampled_since(&plan, *bucket)).min();
        prop_assert_eq!(Gathering::first_sampled(&plan), first);
    }

    /// Where the spans of every item just fill the nights that are asked for, the cost over sales is
    /// cost over sales, to the digit.
    #[test]
    fn spans_that_fill_the_nights_give_cost_over_sales(
        amounts in prop::collection::vec((1_000..90_000_000_i64, 1..9_000_000_i64), 8),
    ) {
        let days = amounts.iter().enumerate().map(|(n, (amount, sales))| {
            // A count before the first night, then one every night.
            let said = vec![("potato", *amount, Some(amount / 3))];
            let mut one = day("ford", said, Some(*sales));
            one.kept = [item("potato")].into();
            (("ford", n as i64), one)
        });
        let chain = joined(days.collect());
        let span = DateSpan::new(date(1), date(7)).expect("in order");
        let (scope, buckets) = ("network".parse().expect("a scope"), [span]);
        let plan = Plan { scope: &scope, level: None, buckets: &buckets, item: None, sample_nights: 1 };
        let found = gathered(&chain, plan, 0, &BTreeSet::new()).remove(0);
        let over = Measures::of(&found.sum, every).money.food_cost;
        let food = &found.sum.items[&item("potato")].food;
        if let Some(over) = over.filter(|_| found.sum.doubtful().spans == 0) {
            prop_assert_eq!(over.rate.ratio.numerator, food.cost.to_decimal());
            prop_assert_eq!(over.rate.ratio.denominator, found.sum.night.sales.to_decimal());
            // The third night is a Wednesday, on which the store stays closed.
            prop_assert_eq!(over.rate.nights, 6);
        }
    }
}

/// A cost of use of so much, and sales, of one item on its own nights.
fn own(cost: i64, sales: i64, kept_sales: i64) -> ItemSum {
    let money = |units: i64| Money::from_ten_thousandths(units * 10_000);
    ItemSum {
        food: crate::rollup::AgainstSales { cost: money(cost), sales: money(sales), nights: 7 },
        kept: crate::rollup::KeptSum { nights: 7, sales: money(kept_sales), sales_nights: 7 },
        ..ItemSum::default()
    }
}

fn whole(items: Vec<(&str, ItemSum)>, sales: i64) -> Sum {
    let covered = Covered { food: 7, variance: 0 };
    Sum {
        items: items.into_iter().map(|(code, sum)| (item(code), sum)).collect(),
        night: NightSum {
            sales: Money::from_ten_thousandths(sales * 10_000),
            sales_nights: 7,
            ..NightSum::default()
        },
        covered: covered.clone(),
        rhythms: [(Every::Night, covered.clone()), (Every::Week, covered)].into(),
        ..Sum::default()
    }
}

/// Two stores, one of which sells only leek and the other only rice, each at 30 % of its sales of 1,000
/// and 3,000: together 30 %, and not the mean of anything.
#[test]
fn two_stores_of_disjoint_menus_at_thirty_per_cent_give_thirty() {
    let sum =
        whole(vec![("leek", own(300, 1_000, 1_000)), ("rice", own(900, 3_000, 3_000))], 4_000);
    let over = Measures::of(&sum, every).money.food_cost.expect("a cost");
    assert_eq!(over.rate.ratio.value(), Some("0.3".parse::<Decimal>().expect("a number")));
    assert_eq!(over.items.len(), 2);
}

/// By hand. A Sunday of 1,000 is asked for. Potatoes cost 180 on it; oil is counted on Sundays and cost
/// 350 in a week of 7,000; leek cost 20. 20 % and 5 % are 25 %, and not 55 % of the Sunday's sales. Salt
/// is kept and was not counted: it is named; buns are neither.
#[test]
fn a_weekly_count_is_held_against_its_week() {
    let uncounted = ItemSum { food: <_>::default(), ..own(0, 0, 1_000) };
    let elsewhere = ItemSum { days: 1, ..ItemSum::default() };
    let items = vec![
        ("bun", elsewhere),
        ("leek", own(20, 1_000, 1_000)),
        ("oil", own(350, 7_000, 1_000)),
        ("potato", own(180, 1_000, 1_000)),
        ("salt", uncounted),
    ];
    let sum = whole(items, 1_000);
    let measures = Measures::of(&sum, every);
    let over = measures.money.food_cost.as_ref().expect("a cost");
    let percent =
        |rate: crate::rollup::Rate| rate.ratio.percent().expect("a ratio").round_dp(2).to_string();
    assert_eq!(percent(over.rate), "25.00");
    assert_eq!(over.uncounted, [item("salt")]);
    let parts: Vec<_> = over
        .rhythms
        .iter()
        .map(|part| (part.every.word(), percent(part.rate), part.cost.to_decimal(), part.items))
        .collect();
    let part = |word: &'static str, share: &str, cost: i64, items: u64| {
        (word, share.to_owned(), Decimal::from(cost), items)
    };
    assert_eq!(parts, [part("night", "20.00", 200, 2), part("week", "5.00", 350, 1)]);
    assert_eq!(Headline::FoodCost.items(&measures), ["leek", "oil", "potato"].map(item));
}

/// Counts of two items known to 6.00 and 8.00 of money, of which half speaks for the night asked for:
/// the sum is known to 5.00, not to 7.00. So 350 of 1,000 are known to ± 1.96 × 5 ÷ 1,000.
#[test]
fn variances_of_items_add_and_ranges_do_not() {
    let mut sum =
        whole(vec![("leek", own(300, 2_000, 1_000)), ("rice", own(400, 2_000, 1_000))], 1_000);
    for (code, sd) in [("leek", 6), ("rice", 8)] {
        let one = sum.items.get_mut(&item(code)).expect("an item");
        let squares = (sd * 1_000_u128).pow(2);
        one.compared.ends = CountEnds::settled(squares);
        (one.compared.nights, one.valued.nights) = (7, 7);
        // At 1.00 a unit.
        one.valued.used = Tallied::from_thousandths(300_000);
        one.valued.used_cost = Money::from_ten_thousandths(3_000_000);
    }
    let measures = Measures::of(&sum, every);
    let over = measures.money.food_cost.as_ref().expect("a cost");
    assert!((over.sd.expect("a spread").value() - 5.0).abs() < 1e-9);
    let known = Headline::FoodCost.of(&sum, &measures).expect("a value");
    let range = known.range.expect("a range");
    assert_eq!(format!("{:.5} to {:.5}", range.low, range.high), "0.34020 to 0.35980");
    assert_eq!(known.rate.ratio.value(), Some("0.35".parse().expect("a number")));
}

/// What was paid back may be more than was taken: then there is a ratio, and nobody can tell its range.
/// Without sales, or a night that spans cover, there is none.
#[test]
fn a_cost_over_sales_below_nothing_has_no_range() {
    let of = |sum: &Sum| Headline::FoodCost.of(sum, &Measures::of(sum, every));
    let mut sum = whole(vec![("leek", own(300, 1_000, 1_000))], -1_000);
    let leek = sum.items.get_mut(&item("leek")).expect("an item");
    (leek.compared.nights, leek.valued.nights) = (7, 7);
    assert_eq!(of(&sum).map(|known| known.range), Some(None));
    let sales = Money::ZERO;
    assert_eq!(of(&Sum { night: NightSum { sales, ..sum.night.clone() }, ..sum.clone() }), None);
    assert_eq!(of(&Sum { covered: Covered::default(), ..sum }), None);
}
