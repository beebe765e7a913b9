//! Two invented items, worked out by hand.

use super::*;
use crate::rollup::{BatchSum, ComparedSum, CountEnds, UsedSum};
use crate::usage::Samples;

fn kg(grams: i64) -> Tallied {
    Tallied::from_thousandths(grams * 1_000)
}

/// Hundredths of the currency unit.
fn cents(cents: i64) -> Money {
    Money::from_ten_thousandths(cents * 100)
}

/// Counts whose ends are known to so many kilograms together.
fn ends(kilograms: u128) -> CountEnds {
    CountEnds::settled((kilograms * 1_000_000).pow(2))
}

/// Of 100 kg used 20 were made into others and 70 were expected; a unit cost 2.00.
fn leek() -> ItemSum {
    ItemSum {
        used: UsedSum {
            used_cost: cents(11_000),
            made_into_cost: cents(1_700),
            cost_nights: 7,
            ..UsedSum::default()
        },
        compared: ComparedSum {
            used: kg(100_000),
            made_into: kg(20_000),
            expected: kg(70_000),
            wasted: kg(3_000),
            yield_loss: kg(2_000),
            ends: ends(3),
            nights: 7,
        },
        valued: ValuedSum {
            used: kg(50_000),
            used_cost: cents(10_000),
            made_into_cost: cents(1_600),
            expected_cost: cents(7_600),
            variance_cost: cents(800),
            wasted_cost: cents(300),
            yield_loss_cost: cents(100),
            nights: 7,
        },
        against_sales: AgainstSales { cost: cents(800), sales: cents(100_000), nights: 6 },
        food: AgainstSales { cost: cents(9_400), sales: cents(100_000), nights: 6 },
        batches: BatchSum { out: kg(8_000), expected_out: kg(10_000), nights: 2 },
        samples: Samples::from_parts(2, 2_040_000, 2_080_800_000_000),
        price_effect: cents(150),
        ..ItemSum::default()
    }
}

fn rice() -> ItemSum {
    ItemSum {
        used: UsedSum {
            used_cost: cents(8_500),
            made_into_cost: cents(600),
            cost_nights: 5,
            ..UsedSum::default()
        },
        compared: ComparedSum {
            used: kg(40_000),
            expected: kg(36_000),
            wasted: kg(1_000),
            yield_loss: kg(500),
            ends: ends(4),
            nights: 5,
            ..ComparedSum::default()
        },
        valued: ValuedSum {
            used: kg(40_000),
            used_cost: cents(8_000),
            made_into_cost: cents(500),
            expected_cost: cents(7_000),
            variance_cost: cents(500),
            wasted_cost: cents(200),
            yield_loss_cost: cents(150),
            nights: 5,
        },
        samples: Samples::from_parts(1, 1_050_000, 1_102_500_000_000),
        price_effect: cents(-25),
        ..ItemSum::default()
    }
}

fn shown(rate: Option<Rate>) -> Option<(String, String, u64)> {
    let text = |value: Decimal| value.normalize().to_string();
    rate.map(|r| (text(r.ratio.numerator), text(r.ratio.denominator), r.nights))
}

fn rate(numerator: &str, denominator: &str, nights: u64) -> Option<(String, String, u64)> {
    Some((numerator.to_owned(), denominator.to_owned(), nights))
}

fn off(estimate: CostEstimate) -> (Money, f64) {
    let sd = estimate.sd.map_or(f64::NAN, StdDev::value);
    (estimate.cost, (sd * 1_000.0).round() / 1_000.0)
}

#[test]
fn the_measures_of_an_item() {
    let leek = ItemMeasures::of(leek());
    // 100 − 20 − 70 over what was due, 70 + 20.
    assert_eq!(shown(leek.of_expected), rate("10000", "90000", 7));
    assert_eq!(shown(leek.accounted), rate("90000", "100000", 7));
    assert_eq!(shown(leek.batch_yield), rate("8000", "10000", 2));
    assert_eq!(shown(leek.of_sales), rate("8", "1000", 6));
    assert_eq!(shown(leek.food_cost), rate("94", "1000", 6));
    let causes = leek.cost_causes.expect("a price");
    // Counts are known to 3 kg, at 2.00.
    assert_eq!(off(causes.variance), (cents(800), 6.0));
    assert_eq!((causes.waste, causes.yield_loss), (cents(300), cents(100)));
    // Portions are 2 % over on 70 kg.
    let over = causes.over_portioning.expect("samples");
    assert_eq!(over.cost, cents(280));
    assert_eq!(causes.unexplained.cost, cents(120));
}

#[test]
fn the_measures_over_two_items() {
    let items = [("leek", leek()), ("rice", rice())];
    let items = items.map(|(code, sum)| (ItemId::new(code).expect("a code"), sum));
    let sum = Sum { items: items.into(), ..Sum::default() };
    let money = Measures::of(&sum, |_| Every::Night).money;
    // 110 − 17 + 85 − 6.
    assert_eq!((money.used, money.used_nights), (cents(17_200), 12));
    let valued = ValuedSum {
        used: Tallied::ZERO,
        used_cost: cents(18_000),
        made_into_cost: cents(2_100),
        expected_cost: cents(14_600),
        variance_cost: cents(1_300),
        wasted_cost: cents(500),
        yield_loss_cost: cents(250),
        nights: 12,
    };
    assert_eq!(money.valued, valued);
    assert_eq!(shown(money.of_expected), rate("13", "146", 12));
    assert_eq!(shown(money.accounted), rate("167", "180", 12));
    assert_eq!(money.price_effect, cents(125));
    let causes = money.causes.expect("prices");
    // 6 and 8 are 10 together; 2.80 and 3.60 over portions; 1.20 and −2.10 are left.
    assert_eq!(off(causes.variance), (cents(1_300), 10.0));
    assert_eq!((causes.waste, causes.yield_loss), (cents(500), cents(250)));
    assert_eq!(causes.over_portioning.map(|over| over.cost), Some(cents(640)));
    assert_eq!(causes.unexplained.cost, cents(-90));
}

#[test]
fn there_is_no_rate_without_a_night_or_over_nothing() {
    let nothing = ItemMeasures::of(ItemSum::default());
    assert_eq!((nothing.of_expected, nothing.accounted, nothing.causes), (None, None, None));
    let no_night = BatchSum { nights: 0, ..leek().batches };
    assert_eq!(ItemMeasures::of(ItemSum { batches: no_night, ..leek() }).batch_yield, None);
    let nothing_due = BatchSum { expected_out: Tallied::ZERO, ..leek().batches };
    assert_eq!(ItemMeasures::of(ItemSum { batches: nothing_due, ..leek() }).batch_yield, None);
    let unpriced = ItemSum { valued: ValuedSum::default(), ..leek() };
    assert_eq!(ItemMeasures::of(unpriced).cost_causes, None);
}

#[test]
fn shares_are_of_the_whole_of_the_same_nights() {
    let lines = WasteLines { cost: cents(300), ..WasteLines::default() };
    let night = NightSum { wasted_cost: cents(1_200), nights: 4, ..NightSum::default() };
    assert_eq!(shown(lines.share(&night)), rate("3", "12", 4));
    let tally = |sales, orders| {
        let mut tally = DaypartTally { sales: cents(sales), ..DaypartTally::default() };
        tally.tickets.orders = orders;
        tally
    };
    let (lunch, all) = (DaypartSum::of(tally(500, 9)), tally(2_500, 40));
    assert_eq!(shown(lunch.share_of_sales(&all, 6)), rate("5", "25", 6));
    assert_eq!(shown(lunch.share_of_orders(&all, 6)), rate("9", "40", 6));
}
