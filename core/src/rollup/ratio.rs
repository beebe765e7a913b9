use crate::money::Money;
use crate::quantity::Tallied;
use crate::stats::{Confidence, Interval};

/// A ratio of two sums over nights, with what it takes to say how well it is known: the sums of
/// squares and products of its nights. All are whole numbers, so records merge to the digit, in any
/// order and grouping; the ratio and its interval are made once, at the end, and do not merge.
///
/// ```
/// use parings_core::money::Money;
/// use parings_core::rollup::RatioSum;
/// use parings_core::stats::Confidence;
/// // Waste and sales of two times six nights, in the currency's major unit.
/// let nights = [(9, 4_800), (12, 5_100), (7, 3_900), (15, 6_200), (8, 4_400), (11, 5_300)];
/// let money = |units: i64| Money::from_ten_thousandths(units * 10_000);
/// let week = nights
///     .iter()
///     .map(|(waste, sales)| RatioSum::of_money(money(*waste), money(*sales)))
///     .fold(RatioSum::default(), |sum, night| sum.merge(&night));
/// // 62 over 29,700: a ratio of sums, and no mean of six ratios. Too few nights for a range.
/// assert_eq!(week.value(), Some(62.0 / 29_700.0));
/// assert_eq!(week.interval(Confidence::NINETY_FIVE), None);
/// let range = week.merge(&week).interval(Confidence::NINETY_FIVE).unwrap();
/// assert!(range.contains(62.0 / 29_700.0) && range.low > 0.0);
/// ```
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct RatioSum {
    /// How many nights.
    pub nights: u64,
    /// The sum of the numerators, in the smallest unit that is tallied.
    pub numerator: i128,
    /// The sum of the denominators, in the same unit.
    pub denominator: i128,
    /// The sum of the squared numerators.
    pub numerator_squares: i128,
    /// The sum of the squared denominators.
    pub denominator_squares: i128,
    /// The sum of numerators times denominators.
    pub products: i128,
}

impl RatioSum {
    /// Fewest nights for an interval: a week. Simulated nights whose amounts are sums of a few
    /// discards are held by a range of 95 % in 93 to 94 % of cases, from 7 nights on; where a single
    /// skewed discard makes half of a night, in 88 % with 7 and 92 % with 28. See the tests.
    pub const FEWEST_NIGHTS: u64 = 7;

    /// One night's amounts of money.
    pub fn of_money(numerator: Money, denominator: Money) -> Self {
        Self::of(numerator.ten_thousandths(), denominator.ten_thousandths())
    }

    /// One night's amounts of an item.
    pub fn of_amounts(numerator: Tallied, denominator: Tallied) -> Self {
        Self::of(numerator.thousandths(), denominator.thousandths())
    }

    fn of(numerator: i64, denominator: i64) -> Self {
        let (numerator, denominator) = (i128::from(numerator), i128::from(denominator));
        Self {
            nights: 1,
            numerator,
            denominator,
            numerator_squares: numerator * numerator,
            denominator_squares: denominator * denominator,
            products: numerator * denominator,
        }
    }

    /// All nights of both. Stops at the ends of the numbers, which no kitchen reaches.
    #[must_use]
    pub fn merge(&self, other: &Self) -> Self {
        let add = i128::saturating_add;
        Self {
            nights: self.nights.saturating_add(other.nights),
            numerator: add(self.numerator, other.numerator),
            denominator: add(self.denominator, other.denominator),
            numerator_squares: add(self.numerator_squares, other.numerator_squares),
            denominator_squares: add(self.denominator_squares, other.denominator_squares),
            products: add(self.products, other.products),
        }
    }

    /// The ratio of the sums; none over nothing.
    pub fn value(&self) -> Option<f64> {
        (self.denominator != 0).then(|| float(self.numerator) / float(self.denominator))
    }

    /// The range the ratio lies in, as nights differ from each other: the delta method for a ratio
    /// of sums (W. G. Cochran, Sampling Techniques, 3rd ed., 1977, section 6.4, without its
    /// correction for finite populations; from memory), with Student's t for the few nights there
    /// are. Nights are taken to be independent. `None` over nothing or below nothing, and with
    /// fewer than [`Self::FEWEST_NIGHTS`].
    pub fn interval(&self, confidence: Confidence) -> Option<Interval> {
        if self.nights < Self::FEWEST_NIGHTS || self.denominator <= 0 {
            return None;
        }
        let (value, nights) = (self.value()?, self.nights as f64);
        // The sum of (numerator − value × denominator)² over the nights.
        let residuals = float(self.numerator_squares) - 2.0 * value * float(self.products)
            + value * value * float(self.denominator_squares);
        let variance = residuals.max(0.0) * nights / (nights - 1.0);
        let half = confidence.t(self.nights - 1) * variance.sqrt() / float(self.denominator);
        Some(Interval { low: value - half, high: value + half })
    }
}

fn float(sum: i128) -> f64 {
    sum as f64
}

#[cfg(test)]
mod tests;
