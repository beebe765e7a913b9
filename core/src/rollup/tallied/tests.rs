//! One record with every figure different, and the sums that it becomes.

use super::*;
use crate::quantity::Tallied;
use crate::rollup::{ComparedSum, Sum, UsedSum, ValuedSum};
use crate::tally::{Counted, DaypartKey, Doubt};
use crate::tickets::TicketTally;
use crate::usage::Samples;

fn grams(thousandths: i64) -> Tallied {
    Tallied::from_thousandths(thousandths)
}

fn money(ten_thousandths: i64) -> Money {
    Money::from_ten_thousandths(ten_thousandths)
}

fn date() -> BusinessDate {
    BusinessDate::new(2026, 3, 8).expect("a date")
}

fn of(span: &ItemSpan) -> ItemSum {
    let (ford, potato) = (StoreId::new("ford"), ItemId::new("potato"));
    ItemSum::of_span(&ford.expect("a code"), &potato.expect("a code"), date(), span)
}

fn span() -> ItemSpan {
    let counted = |closing, sd| Counted { closing: grams(closing), sd: grams(sd) };
    ItemSpan {
        opened_on: date().plus_days(-4),
        nights: 3,
        opening: counted(500, 5),
        received: grams(1),
        transferred_in: grams(2),
        transferred_out: grams(3),
        made: grams(4),
        closing: counted(400, 12),
        used: grams(101),
        used_cost: Some(money(211)),
        made_into: grams(11),
        made_into_cost: money(23),
        expected: Some(grams(73)),
        expected_cost: Some(money(151)),
        variance_cost: Some(money(37)),
        wasted: grams(7),
        wasted_cost: money(13),
        wasted_safety: grams(8),
        wasted_safety_cost: money(16),
        yield_loss: grams(5),
        yield_loss_cost: money(9),
        samples: Samples::from_parts(1, 2, 3),
        sales: Some(money(1_013)),
        owner_changed: false,
        doubts: [].into(),
    }
}

/// Invented, term by term.
#[test]
fn a_span_is_in_every_sum_that_it_speaks_for() {
    let all = of(&span());
    let used = UsedSum {
        used: grams(101),
        made_into: grams(11),
        nights: 3,
        used_cost: money(211),
        made_into_cost: money(23),
        cost_nights: 3,
    };
    let compared = ComparedSum {
        used: grams(101),
        made_into: grams(11),
        expected: grams(73),
        wasted: grams(7),
        yield_loss: grams(5),
        ends: all.compared.ends.clone(),
        nights: 3,
    };
    // 5² + 12².
    assert_eq!(compared.ends.squares(), 169);
    let valued = ValuedSum {
        used: grams(101),
        used_cost: money(211),
        made_into_cost: money(23),
        expected_cost: money(151),
        variance_cost: money(37),
        wasted_cost: money(13),
        yield_loss_cost: money(9),
        nights: 3,
    };
    let against = |cost| AgainstSales { cost: money(cost), sales: money(1_013), nights: 3 };
    let expected = ItemSum {
        used,
        compared,
        valued,
        against_sales: against(37),
        // 211 − 23: what was made into others is theirs.
        food: against(188),
        ..ItemSum::default()
    };
    assert_eq!(all, expected);

    let unsold = of(&ItemSpan { sales: None, owner_changed: true, ..span() });
    let none = AgainstSales::default;
    let told =
        ItemSum { against_sales: none(), food: none(), owner_changed: 1, ..expected.clone() };
    assert_eq!(unsold, told);

    let unpriced = ItemSpan { used_cost: None, variance_cost: None, ..span() };
    let uncosted = UsedSum {
        used_cost: Money::ZERO,
        made_into_cost: Money::ZERO,
        cost_nights: 0,
        ..expected.used.clone()
    };
    let valued = ValuedSum::default();
    assert_eq!(of(&unpriced), ItemSum { used: uncosted, valued, ..told_nothing(&expected) });

    let pending = ItemSpan { expected: None, expected_cost: None, variance_cost: None, ..span() };
    let food = expected.food.clone();
    assert_eq!(of(&pending), ItemSum { used: expected.used, food, ..ItemSum::default() });
}

/// The same without anything over sales.
fn told_nothing(sum: &ItemSum) -> ItemSum {
    let none = AgainstSales::default;
    ItemSum { against_sales: none(), food: none(), ..sum.clone() }
}

#[test]
fn a_span_in_doubt_is_only_told_apart() {
    let doubts = [Doubt::NegativeUse, Doubt::ShortDays];
    let doubtful = ItemSpan { doubts: doubts.into(), owner_changed: true, ..span() };
    let told =
        DoubtSum { spans: 1, used_cost: money(211), by: doubts.map(|doubt| (doubt, 1)).into() };
    let expected = ItemSum { doubtful: told, owner_changed: 1, ..ItemSum::default() };
    assert_eq!(of(&doubtful), expected);
    let mut sum = ItemSum::default();
    let restated_at = "2026-03-09T12:00:00Z".parse().ok();
    sum.add_ended(&EndedSpan { span: doubtful, restated_at });
    assert_eq!(sum, ItemSum { restated: 1, ..expected.clone() });

    let other = ItemSum { restated: 4, owner_changed: 2, ..ItemSum::default() };
    let items = [("potato", sum), ("oil", other)];
    let items = items.map(|(code, sum)| (ItemId::new(code).expect("a code"), sum));
    let all = Sum { items: items.into(), ..Sum::default() };
    assert_eq!((all.restated(), all.owner_changed()), (5, 3));
    assert_eq!(all.doubtful(), expected.doubtful);
}

#[test]
fn a_date_is_in_the_sums_of_its_item() {
    let day = ItemDay {
        wasted: grams(60),
        wasted_cost: money(130),
        wasted_safety: grams(7),
        wasted_safety_cost: money(19),
        batch_out: grams(8),
        batch_expected_out: grams(9),
        price_effect: money(5),
        stock_out_minutes: 11,
        samples: Samples::from_parts(1, 2, 3),
        ..ItemDay::default()
    };
    let mut sum = ItemSum::of_day(&day);
    let one = ItemSum {
        days: 1,
        waste: WasteSum {
            amount: grams(53),
            cost: money(111),
            safety: grams(7),
            safety_cost: money(19),
        },
        batches: crate::rollup::BatchSum { out: grams(8), expected_out: grams(9), nights: 1 },
        samples: day.samples,
        price_effect: money(5),
        stock_out_minutes: 11,
        ..ItemSum::default()
    };
    assert_eq!(sum, one);
    sum.add_day(&ItemDay::default());
    assert_eq!(sum, ItemSum { days: 2, ..one });
}

#[test]
fn an_item_that_is_only_kept_says_so() {
    let mut sum = ItemSum::default();
    sum.add_kept(None);
    sum.add_kept(Some(money(31)));
    let kept = crate::rollup::KeptSum { nights: 2, sales: money(31), sales_nights: 1 };
    assert_eq!(sum, ItemSum { kept, ..ItemSum::default() });
    assert!(sum.is_only_kept());
    assert!(!ItemSum { days: 1, ..sum }.is_only_kept());
}

/// Two nights, of which one was short: it is in no ratio of waste to sales, and in everything else.
#[test]
fn nights_are_in_the_sums_of_their_store() {
    let night = |sales, wasted, short| NightTally {
        sales: Some(money(sales)),
        units: Some(3),
        wasted_cost: money(wasted),
        wasted_safety_cost: money(10),
        short,
        ..NightTally::default()
    };
    let key = DaypartKey {
        daypart: crate::ids::DaypartId::outside(),
        channel: crate::ids::ChannelId::every(),
    };
    let tally = |with_target| DaypartTally {
        tickets: TicketTally { with_target, ..TicketTally::default() },
        ..DaypartTally::default()
    };
    let day = |night, with_target| Day {
        night,
        dayparts: [(key.clone(), tally(with_target))].into(),
        ..Day::default()
    };
    let whole = NightSum::of(&day(night(700, 17, false), 1));
    let short = NightSum::of(&day(night(500, 25, true), 0));
    let unknown = NightSum::of(&Day::default());
    let expected = NightSum {
        sales: money(1_200),
        sales_nights: 2,
        waste: RatioSum {
            nights: 1,
            numerator: 7,
            denominator: 700,
            numerator_squares: 49,
            denominator_squares: 490_000,
            products: 4_900,
        },
        units: 6,
        units_nights: 2,
        wasted_cost: money(22),
        wasted_safety_cost: money(20),
        nights: 3,
        ticket_nights: 1,
    };
    assert_eq!(unknown.merge(&short).merge(&whole), expected);
    assert_eq!([0, 1].map(|timed| DaypartSum::of(tally(timed)).ticket_nights), [0, 1]);
}
