use std::collections::BTreeMap;

use proptest::prelude::*;
use rust_decimal::Decimal;

use super::*;
use crate::calendar::BusinessDate;
use crate::catalog::Limits;
use crate::ids::{ChannelId, DaypartId, ItemId, StoreId};
use crate::money::{Money, UnitPrice};
use crate::quantity::{Base, Tallied};
use crate::stats::{Confidence, Percentile};
use crate::tally::{
    Counted, Day, DaypartKey, DaypartTally, ItemDay, ItemSpan, NightTally, Opening, SalesSource,
    SpanNight, span,
};
use crate::tickets::{Histogram, MinimumTickets, Seconds, TicketTally};
use crate::usage::Samples;

fn d(text: &str) -> Decimal {
    text.parse().expect(text)
}

/// Kilograms as purchased.
fn kg(text: &str) -> Tallied {
    Base::new(d(text) * d("1000")).settle().unwrap()
}

fn cost(text: &str) -> Money {
    Money::from_decimal(d(text)).unwrap()
}

fn date(day: i64) -> BusinessDate {
    BusinessDate::new(2026, 3, 1).unwrap().plus_days(day - 1)
}

fn ford() -> StoreId {
    StoreId::new("ford").unwrap()
}

fn potato() -> ItemId {
    ItemId::new("potato").unwrap()
}

/// A span of one open night with only its counts and expected use, at 1.00 a kilogram.
fn night_span(on: i64, [opening, received, closing, expected]: [&str; 4], sold: bool) -> ItemSpan {
    let counted = |amount| Counted { closing: kg(amount), sd: kg("2") };
    let item = ItemDay {
        received: kg(received),
        expected: kg(expected),
        expected_cost: cost(expected),
        ..ItemDay::default()
    };
    let source = if sold { SalesSource::Feed } else { SalesSource::None };
    let night = SpanNight {
        open: true,
        sales_source: source,
        sales: sold.then(|| cost("1000")),
        short: false,
        item: Some(&item),
    };
    let opened = Opening { on: date(on - 1), count: counted(opening) };
    span(opened, counted(closing), &[night], UnitPrice::new(d("0.001")).ok(), &Limits::default())
}

fn sum_of(spans: &[(i64, ItemSpan)]) -> ItemSum {
    spans.iter().fold(ItemSum::default(), |sum, (on, span)| {
        sum.merge(&ItemSum::of_span(&ford(), &potato(), date(*on), span))
    })
}

/// Twenty portions, 2.0 % over the recipe on average, with a spread of 8 %: the spread of ±1 with
/// one of twenty degrees of freedom less is ×√(19/20).
fn portions() -> Samples {
    let mut samples = Samples::default();
    for sign in [1, -1].repeat(10) {
        let weight = 102_000_000 + sign * 7_797_435;
        samples.add(Base::new(weight.into()), Base::new(100_000_000.into()));
    }
    samples
}

/// Invented worked example: one store, one night, potatoes at 0.90 a kilogram.
fn worked_night() -> Sum {
    let (blanched, finished) = (d("0.6741306"), d("0.458408808"));
    let price = UnitPrice::new(d("0.0009")).unwrap();
    let grams = |kg: Decimal| Base::new(kg * d("1000")).settle().unwrap();
    let valued = |amount: Tallied| price.of(amount.base());
    let expected = grams(d("112.05") / finished);
    let wasted = grams(d("1.5") + d("4.3") / blanched + d("1.1") / finished);
    let yield_loss = grams(d("272.2") - d("180.8") / blanched);
    let day = ItemDay {
        received: kg("226.8"),
        transferred_in: kg("22.7"),
        expected,
        expected_cost: valued(expected),
        wasted,
        wasted_cost: valued(wasted),
        batch_in: kg("272.2"),
        batch_out: kg("180.8"),
        batch_expected_out: grams(d("272.2") * blanched),
        yield_loss,
        yield_loss_cost: valued(yield_loss),
        samples: portions(),
        stock_out_minutes: 35,
        ..ItemDay::default()
    };
    let sales = cost("4837.50");
    let closing = grams(d("90.7") + d("27.5") / blanched);
    let counted = |closing| Counted { closing, sd: kg("2") };
    let opening = Opening { on: date(5), count: counted(kg("148.0")) };
    let open = SpanNight {
        open: true,
        sales_source: SalesSource::Feed,
        sales: Some(sales),
        short: false,
        item: Some(&day),
    };
    let span = span(opening, counted(closing), &[open], Some(price), &Limits::default());
    let item = ItemSum::of_span(&ford(), &potato(), date(6), &span).merge(&ItemSum::of_day(&day));
    let night = NightTally {
        counted: true,
        sales_source: SalesSource::Feed,
        sales: Some(sales),
        units: Some(645),
        wasted_cost: day.wasted_cost,
        ..NightTally::default()
    };
    // The store keeps potatoes, and the span covers the one night that is asked for.
    let item = ItemSum { kept: KeptSum { nights: 1, sales, sales_nights: 1 }, ..item };
    let covered = Covered { food: 1, variance: 1 };
    Sum {
        rhythms: BTreeMap::from([(Every::Night, covered.clone())]),
        covered,
        items: BTreeMap::from([(potato(), item)]),
        night: NightSum::of(&Day { night, ..Day::default() }),
        ..Sum::default()
    }
}

fn shown(amount: Tallied) -> String {
    (amount.base().value() / d("1000")).round_dp(1).to_string()
}

/// Source: invented worked example. Used 266.0 kg, expected 244.4, variance 21.6 = 19.42 = 8.8 % of
/// expected = 0.40 % of sales of 4,837.50; accounted share 91.9 %; causes 10.3, 4.0, 4.9 and
/// 2.4 ± 5.2 kg; waste 9.25 = 1.91 per 1,000 of sales.
#[test]
fn the_worked_night() {
    let sum = worked_night();
    let measures = Measures::of(&sum, |_| Every::Night);
    let item = &measures.items[&potato()];
    assert_eq!(shown(item.sum.used.used), "266.0");
    assert_eq!(shown(item.sum.compared.expected), "244.4");
    let causes = item.causes.unwrap();
    assert_eq!(shown(causes.variance.amount), "21.6");
    assert_eq!((causes.variance.sd.unwrap().value() / 100.0).round(), 28.0); // ± 2.8 kg
    let parts = [causes.waste, causes.yield_loss, causes.over_portioning.unwrap().amount];
    assert_eq!(parts.map(shown), ["10.3", "4.0", "4.9"]);
    assert_eq!(shown(causes.unexplained.amount), "2.4");
    assert_eq!((causes.unexplained.sd.unwrap().value() / 100.0).round(), 52.0); // ± 5.2 kg

    let percent = |rate: Option<Rate>, places| {
        let rate = rate.unwrap();
        assert_eq!(rate.nights, 1);
        rate.ratio.percent().unwrap().round_dp(places).to_string()
    };
    assert_eq!(percent(item.of_expected, 1), "8.8");
    assert_eq!(percent(item.of_sales, 2), "0.40");
    assert_eq!(percent(item.accounted, 1), "91.9");

    // One item: over all items in money it is the same.
    let all = &measures.money;
    assert_eq!(all.valued.variance_cost.to_decimal().round_dp(2).to_string(), "19.42");
    assert_eq!(percent(all.of_expected, 1), "8.8");
    assert_eq!(percent(all.of_sales.as_ref().map(|over| over.rate), 2), "0.40");
    let waste = all.waste_of_sales.unwrap().ratio;
    assert_eq!(waste.numerator.round_dp(2).to_string(), "9.25");
    assert_eq!((waste.value().unwrap() * d("1000")).round_dp(2).to_string(), "1.91");
    // The causes in money are the kilograms at 0.90: 2.4 kg ± 5.2 is 2.16 ± 4.69.
    let causes = all.causes.unwrap();
    assert_eq!(causes.unexplained.cost.to_decimal().round_dp(2).to_string(), "2.16");
    assert_eq!((causes.unexplained.sd.unwrap().value() * 100.0).round(), 469.0);
    // What is weighed into a batch and out of it, over the standard: 180.8 of 183.5 kg.
    assert_eq!(percent(item.batch_yield, 1), "98.5");
}

/// Hand computation: three nights, the middle one without sales. Its 40 kg are used, but in no
/// ratio; (30 − 28 + 32 − 30) ÷ (28 + 30) = 4 ÷ 58 over two nights.
#[test]
fn a_night_without_sales_biases_no_ratio() {
    let spans = [
        (2, night_span(2, ["50", "0", "20", "28"], true)),
        (3, night_span(3, ["20", "60", "40", "0"], false)),
        (4, night_span(4, ["40", "0", "8", "30"], true)),
    ];
    let measures = ItemMeasures::of(sum_of(&spans));
    assert_eq!((measures.sum.used.used, measures.sum.used.nights), (kg("102"), 3));
    let rate = measures.of_expected.unwrap();
    assert_eq!((rate.ratio.numerator, rate.ratio.denominator), (d("4000"), d("58000")));
    assert_eq!(rate.nights, 2);
    let rate = measures.of_sales.unwrap();
    assert_eq!((rate.ratio.numerator, rate.ratio.denominator), (d("4"), d("2000")));
    assert_eq!(rate.nights, 2);
    // The night between is in neither, so its counts do not cancel: four ends of 2 kg are 4 kg.
    assert_eq!(measures.causes.unwrap().variance.sd.unwrap().value(), 4000.0);
}

#[test]
fn what_never_was_is_no_zero() {
    let none = Measures::of(&Sum::default(), |_| Every::Night);
    assert!(none.items.is_empty());
    let money = &none.money;
    assert_eq!((money.of_expected, &money.of_sales, money.accounted), (None, &None, None));
    assert_eq!((money.waste_of_sales, money.causes), (None, None));
    // Pending use alone has a cost and no variance.
    let pending = sum_of(&[(2, night_span(2, ["50", "0", "20", "0"], false))]);
    let sum = Sum { items: BTreeMap::from([(potato(), pending)]), ..Sum::default() };
    let measures = Measures::of(&sum, |_| Every::Night);
    assert_eq!(measures.money.used, cost("30"));
    assert_eq!(measures.items[&potato()].causes, None);
    assert_eq!(measures.money.causes, None);
}

/// Hand computation: 10 kg of potatoes at 1.00 go into 8 kg of mash, which is counted and sold. The
/// cost of use is what potatoes lost besides, and the mash: 12 − 10 + 8.
#[test]
fn what_was_made_into_others_is_counted_once() {
    let item = |used: &str, made_into: &str| ItemSum {
        used: UsedSum {
            used_cost: cost(used),
            made_into_cost: cost(made_into),
            cost_nights: 1,
            ..UsedSum::default()
        },
        ..ItemSum::default()
    };
    let mash = ItemId::new("mash").unwrap();
    let items = BTreeMap::from([(potato(), item("12", "10")), (mash, item("8", "0"))]);
    let measures = Measures::of(&Sum { items, ..Sum::default() }, |_| Every::Night);
    assert_eq!((measures.money.used, measures.money.used_nights), (cost("10"), 2));
}

/// Invariant 7: safety discards are shown beside the measure that is compared, never in it.
#[test]
fn a_safety_discard_never_counts_against_a_store() {
    let night = |safety: &str| NightTally {
        sales: Some(cost("1000")),
        wasted_cost: cost("5") + cost(safety),
        wasted_safety_cost: cost(safety),
        ..NightTally::default()
    };
    for safety in ["0", "400"] {
        let sum = Sum {
            night: NightSum::of(&Day { night: night(safety), ..Day::default() }),
            ..Sum::default()
        };
        let rate = Measures::of(&sum, |_| Every::Night).money.waste_of_sales.unwrap();
        assert_eq!((rate.ratio.numerator, rate.ratio.denominator), (d("5"), d("1000")));
        assert_eq!(sum.night.wasted_safety_cost, cost(safety));
    }
    let day = ItemDay {
        wasted: kg("5"),
        wasted_cost: cost("5"),
        wasted_safety: kg("3"),
        wasted_safety_cost: cost("3"),
        ..ItemDay::default()
    };
    let waste = ItemSum::of_day(&day).waste;
    assert_eq!((waste.amount, waste.safety), (kg("2"), kg("3")));
    assert_eq!((waste.cost, waste.safety_cost), (cost("2"), cost("3")));
}

/// Source of the definition: nearest rank, Hyndman and Fan 1996, definition 1 (the bills of
/// reshape2::tips are checked in the histogram's own tests). By hand: of 90 times of 300 s and 10
/// of 1,200 s the pooled p90 is 300 s; the mean of the two dayparts' own is 752 s, as 1,200 s lie
/// in the bin that ends at 1,204.
#[test]
fn a_merged_percentile_is_the_pooled_one_and_no_average() {
    let tally = |seconds: u32, tickets: usize| DaypartTally {
        tickets: TicketTally {
            orders: tickets as u64,
            times: vec![Seconds(seconds); tickets].into_iter().collect(),
            with_target: tickets as u64,
            timed_late: if seconds > 600 { tickets as u64 } else { 0 },
            ..TicketTally::default()
        },
        ..DaypartTally::default()
    };
    let key = |part: &str| DaypartKey {
        daypart: DaypartId::new(part).unwrap(),
        channel: ChannelId::unknown(),
    };
    let (lunch, late) = (tally(300, 90), tally(1_200, 10));
    let own: u32 = [&lunch, &late]
        .map(|part| part.tickets.times.percentile(Percentile::P90).unwrap().0)
        .iter()
        .sum();
    let dayparts = [("lunch", lunch), ("late", late)]
        .map(|(part, tally)| (key(part), DaypartSum::of(tally)))
        .into();
    let all = Sum { dayparts, ..Sum::default() }.all_dayparts().tickets;
    let p90 = all.shown_percentile(Percentile::P90, MinimumTickets(30)).unwrap();
    let pooled: Histogram =
        [[300; 90].as_slice(), &[1_200; 10]].concat().into_iter().map(Seconds).collect();
    assert_eq!(Some(p90), pooled.percentile(Percentile::P90));
    assert_eq!((p90, own / 2), (Seconds(300), 752));
    // Wilson's limits for 90 of 100 by his formula, worked out by hand: (0.9 + 0.01921 ± 0.06191)
    // ÷ 1.03842.
    let (within, range) = all.within_target(Confidence::NINETY_FIVE).unwrap();
    assert_eq!((within.hits(), within.of()), (90, 100));
    assert_eq!(format!("{:.3} to {:.3}", range.low, range.high), "0.826 to 0.945");
}

#[test]
fn spans_under_other_stores_items_or_spreads_do_not_cancel() {
    let ends = |store: &str, item: &str, from: i64, to: i64, sd: &str| {
        let (store, item) = (StoreId::new(store).unwrap(), ItemId::new(item).unwrap());
        CountEnds::of(&store, &item, (date(from), kg(sd)), (date(to), kg(sd)))
    };
    let first = ends("ford", "potato", 1, 2, "2");
    let four = 4.0_f64.sqrt() * 2000.0;
    for other in [
        ends("weir", "potato", 2, 3, "2"),
        ends("ford", "oil", 2, 3, "2"),
        ends("ford", "potato", 3, 4, "2"),
    ] {
        assert_eq!(first.clone().merge(&other).sd().value(), four);
    }
    let again = ends("ford", "potato", 2, 3, "1");
    assert_eq!(first.merge(&again).squares(), (2 * 4 + 2) * 1_000_000_000_000);
}

fn any_span() -> impl Strategy<Value = (i64, ItemSpan)> {
    let amounts = proptest::array::uniform4(0i64..200_000_000);
    let spread = prop::sample::select(vec![0i64, 500_000, 2_000_000]);
    (1i64..20, 0i64..3, amounts, spread, any::<(bool, bool, bool)>()).prop_map(
        |(on, longer, [opening, received, closing, expected], sd, (sold, priced, sampled))| {
            let counted = |closing| Counted {
                closing: Tallied::from_thousandths(closing),
                sd: Tallied::from_thousandths(sd),
            };
            let mut samples = Samples::default();
            if sampled {
                samples.add(Base::new(closing.into()), Base::new((opening + 1).into()));
            }
            let item = ItemDay {
                received: Tallied::from_thousandths(received),
                expected: Tallied::from_thousandths(expected),
                wasted: Tallied::from_thousandths(closing / 7),
                samples,
                ..ItemDay::default()
            };
            let source = if sold { SalesSource::Typed } else { SalesSource::None };
            let night = SpanNight {
                open: true,
                sales_source: source,
                sales: sold.then(|| Money::from_ten_thousandths(received)),
                short: false,
                item: Some(&item),
            };
            let opened = Opening { on: date(on - 1 - longer), count: counted(opening) };
            let price = priced.then(|| UnitPrice::new(d("0.0013")).unwrap());
            (on, span(opened, counted(closing), &[night], price, &Limits::default()))
        },
    )
}

fn any_sum() -> impl Strategy<Value = Sum> {
    let stores = prop::sample::select(vec!["ford", "weir"]);
    let items = prop::sample::select(vec!["potato", "oil"]);
    let one = (stores, items, any_span(), 0u32..3_000).prop_map(|(store, item, (on, span), s)| {
        let (store, item) = (StoreId::new(store).unwrap(), ItemId::new(item).unwrap());
        let sum = ItemSum::of_span(&store, &item, date(on), &span);
        let daypart = DaypartKey { daypart: DaypartId::outside(), channel: ChannelId::every() };
        let mut tickets = TicketTally { orders: 1, ..TicketTally::default() };
        tickets.times.add(Seconds(s));
        let night = NightTally {
            sales: span.sales,
            wasted_cost: span.wasted_cost,
            ..NightTally::default()
        };
        Sum {
            covered: Covered { food: 1, variance: u64::from(span.variance_cost.is_some()) },
            items: BTreeMap::from([(item, sum)]),
            dayparts: BTreeMap::from([(
                daypart,
                DaypartSum::of(DaypartTally { tickets, ..DaypartTally::default() }),
            )]),
            night: NightSum::of(&Day { night, ..Day::default() }),
            ..Sum::default()
        }
    });
    proptest::collection::vec(one, 0..8)
        .prop_map(|all| all.iter().fold(Sum::default(), |sum, one| sum.merge(one)))
}

proptest! {
    /// Invariant 1.
    #[test]
    fn merging_in_any_order_and_grouping_is_the_same(
        a in any_sum(), b in any_sum(), c in any_sum(),
    ) {
        prop_assert_eq!(a.clone().merge(&b), b.clone().merge(&a));
        let left = a.clone().merge(&b).merge(&c);
        let right = a.clone().merge(&b.clone().merge(&c));
        prop_assert_eq!(&left, &right);
        prop_assert_eq!(a.clone().merge(&Sum::default()), a.clone());
        prop_assert_eq!(Sum::default().merge(&a), a);
        prop_assert_eq!(Measures::of(&left, |_| Every::Night), Measures::of(&right, |_| Every::Night));
    }

    /// However a run of spans is cut and shuffled, it has exactly the error of its two ends.
    #[test]
    fn a_run_has_the_error_of_its_two_ends(
        spreads in proptest::collection::vec(0i64..5_000_000, 2..40),
        order in any::<prop::sample::Index>(),
    ) {
        let end = |n: usize| (date(n as i64), Tallied::from_thousandths(spreads[n]));
        let last = spreads.len() - 1;
        let mut spans: Vec<_> =
            (0..last).map(|n| CountEnds::of(&ford(), &potato(), end(n), end(n + 1))).collect();
        spans.rotate_left(order.index(last));
        spans.swap(0, order.index(last));
        let run = spans.iter().fold(CountEnds::default(), |sum, one| sum.merge(one));
        let squares = |n: usize| u128::from(spreads[n].unsigned_abs()).pow(2);
        prop_assert_eq!(run.squares(), squares(0) + squares(last));
        prop_assert_eq!(run, CountEnds::of(&ford(), &potato(), end(0), end(last)));
    }
}
