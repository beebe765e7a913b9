use std::collections::BTreeSet;

use proptest::prelude::*;

use super::*;
use crate::quantity::Tallied;
use crate::usage::Samples;

fn grams(grams: i64) -> Tallied {
    Tallied::from_thousandths(grams * 1_000)
}

/// Hundredths of the currency unit.
fn cents(cents: i64) -> Money {
    Money::from_ten_thousandths(cents * 100)
}

/// What moved, in grams, each with its cost where it has one.
struct Moved {
    received: i64,
    transferred: [i64; 2],
    made: i64,
    made_into: (i64, i64),
    expected: (i64, i64),
    wasted: (i64, i64),
    safety: (i64, i64),
    yield_loss: (i64, i64),
    samples: Samples,
}

fn day(moved: Moved) -> ItemDay {
    ItemDay {
        received: grams(moved.received),
        transferred_in: grams(moved.transferred[0]),
        transferred_out: grams(moved.transferred[1]),
        made: grams(moved.made),
        made_into: grams(moved.made_into.0),
        made_into_cost: cents(moved.made_into.1),
        expected: grams(moved.expected.0),
        expected_cost: cents(moved.expected.1),
        wasted: grams(moved.wasted.0),
        wasted_cost: cents(moved.wasted.1),
        wasted_safety: grams(moved.safety.0),
        wasted_safety_cost: cents(moved.safety.1),
        yield_loss: grams(moved.yield_loss.0),
        yield_loss_cost: cents(moved.yield_loss.1),
        samples: moved.samples,
        ..ItemDay::default()
    }
}

fn days() -> [ItemDay; 2] {
    let first = Moved {
        received: 40,
        transferred: [5, 3],
        made: 7,
        made_into: (2, 410),
        expected: (11, 2_220),
        wasted: (6, 1_230),
        safety: (4, 840),
        yield_loss: (1, 250),
        samples: Samples::from_parts(2, 2_020_000, 2_040_200_000_000),
    };
    let second = Moved {
        received: 20,
        transferred: [1, 2],
        made: 1,
        made_into: (3, 610),
        expected: (2, 420),
        wasted: (5, 1_030),
        safety: (1, 240),
        yield_loss: (-3, -650),
        samples: Samples::from_parts(1, 990_000, 980_100_000_000),
    };
    [day(first), day(second)]
}

/// Three nights: an open one, one on which the store was closed and moved stock all the same, and an
/// open one on which nothing happened to the item; at 2.00 a gram.
fn joined(first: SalesSource) -> ItemSpan {
    let [one, two] = days();
    let counted = |closing, sd| Counted { closing: grams(closing), sd: grams(sd) };
    let night = |open, sales_source, sales: Option<i64>, item| SpanNight {
        open,
        sales_source,
        sales: sales.map(cents),
        short: false,
        item,
    };
    let known = (first != SalesSource::None).then_some(50_000);
    let nights = [
        night(true, first, known, Some(&one)),
        night(false, SalesSource::None, None, Some(&two)),
        night(true, SalesSource::Typed, Some(70_000), None),
    ];
    let opening =
        Opening { on: BusinessDate::new(2026, 3, 2).expect("a date"), count: counted(100, 1) };
    let price = UnitPrice::new(2.into()).ok();
    span(opening, counted(70, 2), &nights, price, &Limits::default())
}

/// Invented, worked out by hand.
#[test]
fn three_nights_by_hand() {
    let expected = ItemSpan {
        opened_on: BusinessDate::new(2026, 3, 2).expect("a date"),
        nights: 2,
        opening: Counted { closing: grams(100), sd: grams(1) },
        received: grams(60),
        transferred_in: grams(6),
        transferred_out: grams(5),
        made: grams(8),
        closing: Counted { closing: grams(70), sd: grams(2) },
        // 100 + 60 + 6 + 8 − 5 − 5 for safety − 70.
        used: grams(94),
        // 26.40 + 10.20 + 152.00.
        used_cost: Some(cents(18_860)),
        made_into: grams(5),
        made_into_cost: cents(1_020),
        expected: Some(grams(13)),
        expected_cost: Some(cents(2_640)),
        // 94 − 5 − 13 are 76, at 2.00.
        variance_cost: Some(cents(15_200)),
        wasted: grams(6),
        wasted_cost: cents(1_180),
        wasted_safety: grams(5),
        wasted_safety_cost: cents(1_080),
        yield_loss: grams(-2),
        yield_loss_cost: cents(-400),
        samples: Samples::from_parts(3, 3_010_000, 3_020_300_000_000),
        sales: Some(cents(120_000)),
        owner_changed: false,
        doubts: BTreeSet::new(),
    };
    assert_eq!(joined(SalesSource::Feed), expected);
    // While sales of an open night are unknown, so is what they should have used; use has its price.
    let pending = ItemSpan {
        used_cost: Some(cents(18_800)),
        expected: None,
        expected_cost: None,
        variance_cost: None,
        sales: None,
        ..expected
    };
    assert_eq!(joined(SalesSource::None), pending);
}

fn amount() -> impl Strategy<Value = Tallied> {
    (0..99_000_000_i64).prop_map(Tallied::from_thousandths)
}

fn counted() -> impl Strategy<Value = Counted> {
    (amount(), 0..2_000_000_i64)
        .prop_map(|(closing, sd)| Counted { closing, sd: Tallied::from_thousandths(sd) })
}

/// What happened to an item on a night, if anything, and whether sales are known.
fn night() -> impl Strategy<Value = (Option<ItemDay>, bool, bool)> {
    let moved = prop::array::uniform8(amount()).prop_map(
        |[received, transferred_in, transferred_out, made, made_into, expected, wasted, lost]| {
            ItemDay {
                received,
                transferred_in,
                transferred_out,
                made,
                made_into,
                expected,
                expected_cost: Money::from_ten_thousandths(expected.thousandths() / 7),
                wasted,
                yield_loss: lost - wasted,
                ..ItemDay::default()
            }
        },
    );
    (prop::option::of(moved), prop::bool::weighted(0.8), prop::bool::weighted(0.9))
}

fn read<'a>((item, open, known): &'a (Option<ItemDay>, bool, bool)) -> SpanNight<'a> {
    let sales_source = if *known { SalesSource::Feed } else { SalesSource::None };
    let sales = known.then_some(Money::from_ten_thousandths(77_700));
    SpanNight { open: *open, sales_source, sales, short: false, item: item.as_ref() }
}

proptest! {
    /// A count put in between divides a span and loses nothing: what it opens with is what the
    /// other closed with.
    #[test]
    fn a_count_in_between_divides_a_span_into_two_that_add_up(
        nights in prop::collection::vec(night(), 2..9),
        at in any::<prop::sample::Index>(),
        (first, middle, last) in (counted(), counted(), counted()),
    ) {
        let from = BusinessDate::new(2026, 6, 15).unwrap();
        let nights: Vec<_> = nights.iter().map(read).collect();
        let at = 1 + at.index(nights.len() - 1);
        let opening = Opening { on: from, count: first };
        let later = Opening { on: from.plus_days(at as i64), count: middle };
        let whole = span(opening, last, &nights, None, &Limits::default());
        let left = span(opening, middle, &nights[..at], None, &Limits::default());
        let right = span(later, last, &nights[at..], None, &Limits::default());
        prop_assert_eq!(left.closing, right.opening);
        prop_assert_eq!(whole.nights, left.nights + right.nights);
        prop_assert_eq!(whole.used, left.used + right.used);
        prop_assert_eq!(whole.received, left.received + right.received);
        prop_assert_eq!(whole.made_into, left.made_into + right.made_into);
        prop_assert_eq!(whole.wasted, left.wasted + right.wasted);
        prop_assert_eq!(whole.yield_loss, left.yield_loss + right.yield_loss);
        // What is pending in a part is pending in the whole, and nothing else is.
        let both = |part: fn(&ItemSpan) -> Option<Tallied>| {
            part(&left).zip(part(&right)).map(|(a, b)| a + b)
        };
        prop_assert_eq!(whole.expected, both(|s| s.expected));
        prop_assert_eq!(whole.variance(), both(ItemSpan::variance));
        let sales = left.sales.zip(right.sales).map(|(a, b)| a + b);
        prop_assert_eq!(whole.sales, sales);
    }
}
