use rust_decimal::Decimal;
use rust_decimal::prelude::ToPrimitive;

use super::{Better, Measures, OverSales, Rate, Sum};
use crate::ids::ItemId;
use crate::quantity::Ratio;
use crate::stats::{Confidence, Interval, StdDev};

/// A measure that stores and spans are compared by.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Headline {
    /// Recorded waste over sales, safety discards and short nights apart.
    WasteOfSales,
    /// Cost of the variance over sales. Either side of zero is off: less used than sold is a count
    /// or a recipe that is wrong, and nothing to be first by.
    VarianceOfSales,
    /// Cost of use over sales.
    FoodCost,
    /// Timed tickets within their target.
    WithinTarget,
}

/// A rate with the range it lies in, 95 % of the times.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Known {
    /// The value, as two sums and the nights they come from.
    pub rate: Rate,
    /// The range; none where nobody can tell.
    pub range: Option<Interval>,
}

impl Headline {
    /// Every measure that stores and spans are compared by.
    pub const ALL: &[Self] =
        &[Self::WasteOfSales, Self::VarianceOfSales, Self::FoodCost, Self::WithinTarget];

    /// Fewest nights for a rank: ten, which is common practice of the trade and has no source.
    pub const LEAST_NIGHTS: u64 = 10;

    /// Which values are better.
    pub fn better(self) -> Better {
        match self {
            Self::WithinTarget => Better::High,
            _ => Better::Low,
        }
    }

    /// Its value, with its range. Waste is as sure as its nights are alike, use is as sure as the
    /// counts at the ends of its spans, and a share of tickets has Wilson's interval.
    pub fn of(self, sum: &Sum, measures: &Measures) -> Option<Known> {
        let sure = Confidence::NINETY_FIVE;
        let money = &measures.money;
        let counts = |over: &OverSales| {
            let range = over.sd.and_then(|sd| around(over.rate.ratio, sd, sure));
            Known { rate: over.rate, range }
        };
        match self {
            Self::WasteOfSales => money
                .waste_of_sales
                .map(|rate| Known { rate, range: sum.night.waste.interval(sure) }),
            Self::VarianceOfSales => money.of_sales.as_ref().map(counts),
            Self::FoodCost => money.food_cost.as_ref().map(counts),
            Self::WithinTarget => {
                let (within, range) = sum.all_dayparts().tickets.within_target(sure)?;
                let ratio = Ratio::new(within.hits().into(), within.of().into());
                let rate = Rate { ratio, nights: sum.night.ticket_nights };
                Some(Known { rate, range: Some(range) })
            }
        }
    }

    /// The items that a value of it rests on, where it rests on counts: children are ranked only
    /// beside those with the same.
    pub fn items(self, measures: &Measures) -> &[ItemId] {
        let over = match self {
            Self::VarianceOfSales => &measures.money.of_sales,
            Self::FoodCost => &measures.money.food_cost,
            Self::WasteOfSales | Self::WithinTarget => &None,
        };
        over.as_ref().map_or(&[], |over| &over.items)
    }

    /// The range that ranks by it: of a variance, how far it is from zero.
    pub fn ranked(self, range: Interval) -> Interval {
        let Interval { low, high } = range;
        match self {
            Self::VarianceOfSales if low <= 0.0 && high >= 0.0 => {
                Interval { low: 0.0, high: high.max(-low) }
            }
            Self::VarianceOfSales if high < 0.0 => Interval { low: -high, high: -low },
            _ => range,
        }
    }

    /// How bad a value is: the higher, the worse.
    pub fn badness(self, value: Decimal) -> Decimal {
        match self {
            Self::VarianceOfSales => value.abs(),
            Self::WithinTarget => -value,
            _ => value,
        }
    }
}

/// The range of a ratio whose numerator is off by so much.
fn around(ratio: Ratio, sd: StdDev, sure: Confidence) -> Option<Interval> {
    let (value, under) = (ratio.value()?.to_f64()?, ratio.denominator.to_f64()?);
    let half = sure.z() * sd.value() / under;
    (under > 0.0).then_some(Interval { low: value - half, high: value + half })
}

impl Known {
    /// How much it rose since another span, with the range of that where both have one: each limit
    /// is as far off as the two that it comes from, squared and added (R. G. Newcombe, Statistics in
    /// Medicine 17 (1998), 873–890, method 10; from memory).
    pub fn since(&self, then: &Self) -> Option<(Decimal, Option<Interval>)> {
        let (now, before) = (self.rate.ratio.value()?, then.rate.ratio.value()?);
        let change = now.checked_sub(before)?;
        let range = self.range.zip(then.range).and_then(|(a, b)| {
            let (now, before, change) = (now.to_f64()?, before.to_f64()?, change.to_f64()?);
            Some(Interval {
                low: change - (now - a.low).hypot(b.high - before),
                high: change + (a.high - now).hypot(before - b.low),
            })
        });
        Some((change, range))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ids::{ChannelId, DaypartId};
    use crate::money::Money;
    use crate::rollup::{DaypartSum, Every, NightSum, RatioSum};
    use crate::tally::{DaypartKey, DaypartTally};
    use crate::tickets::TicketTally;

    /// Source: R. G. Newcombe, Statistics in Medicine 17 (1998), 873–890, table II, method 10 for
    /// 56/70 − 48/80: 0.0524 to 0.3339 (from memory); recomputed from Wilson's limits.
    #[test]
    fn the_range_of_a_difference_of_shares() {
        let share = |hits: u64, of: u64| {
            let range =
                crate::stats::Proportion::new(hits, of).unwrap().wilson(Confidence::NINETY_FIVE);
            let ratio = Ratio::new(hits.into(), of.into());
            Known { rate: Rate { ratio, nights: 1 }, range: Some(range) }
        };
        let (change, range) = share(56, 70).since(&share(48, 80)).unwrap();
        let range = range.unwrap();
        assert_eq!(change.normalize().to_string(), "0.2");
        assert_eq!(format!("{:.4} to {:.4}", range.low, range.high), "0.0524 to 0.3339");
    }

    /// The nights of `ratio::tests::ten_nights_by_hand` and the tickets of
    /// `tests::a_merged_percentile_is_the_pooled_one_and_no_average`, whose ranges were worked out there.
    #[test]
    fn waste_and_tickets_have_their_ranges() {
        let money = |units: i64| Money::from_ten_thousandths(units);
        let nights = [(1, 2), (2, 3), (3, 5), (4, 9), (5, 11)].repeat(2);
        let waste =
            nights.iter().map(|(waste, sales)| RatioSum::of_money(money(*waste), money(*sales)));
        let waste = waste.fold(RatioSum::default(), |sum, night| sum.merge(&night));
        let key = DaypartKey { daypart: DaypartId::outside(), channel: ChannelId::every() };
        let tickets = TicketTally { with_target: 100, timed_late: 10, ..TicketTally::default() };
        let tally = DaypartTally { tickets, ..DaypartTally::default() };
        let sum = Sum {
            night: NightSum { waste, ticket_nights: 8, ..NightSum::default() },
            dayparts: [(key, DaypartSum { tally, ticket_nights: 8 })].into(),
            ..Sum::default()
        };
        let measures = Measures::of(&sum, |_| Every::Night);
        for (headline, nights, value, range) in [
            (Headline::WasteOfSales, 10, "0.5", "0.4438 to 0.5562"),
            (Headline::WithinTarget, 8, "0.9", "0.8256 to 0.9448"),
        ] {
            let known = headline.of(&sum, &measures).expect("a value");
            assert_eq!(known.rate.nights, nights);
            assert_eq!(known.rate.ratio.value().expect("a ratio").normalize().to_string(), value);
            let found = known.range.expect("a range");
            assert_eq!(format!("{:.4} to {:.4}", found.low, found.high), range);
            assert!(headline.items(&measures).is_empty());
        }
        assert_eq!(Headline::FoodCost.of(&sum, &measures), None);
        let better = Headline::ALL.iter().map(|headline| headline.better());
        assert!(better.eq([Better::Low, Better::Low, Better::Low, Better::High]));
    }

    #[test]
    fn a_variance_ranks_by_how_far_it_is_from_zero() {
        let ranked = |low, high| {
            let range = Headline::VarianceOfSales.ranked(Interval { low, high });
            (range.low, range.high)
        };
        assert_eq!(ranked(-3.0, -1.0), (1.0, 3.0));
        assert_eq!(ranked(-3.0, 1.0), (0.0, 3.0));
        assert_eq!(ranked(1.0, 2.0), (1.0, 2.0));
        let one = Decimal::ONE;
        assert_eq!(Headline::VarianceOfSales.badness(-one), one);
        assert!(Headline::WithinTarget.badness(one) < Headline::WithinTarget.badness(-one));
    }
}
