use super::{Confidence, Interval};

/// A ratio of sums over nights or other units, with what its range needs. Additive: merge sums,
/// never ratios.
///
/// ```
/// use parings_core::stats::{Confidence, RatioSums};
/// let nights = [(9.0, 240.0), (12.0, 262.0), (7.0, 231.0), (10.0, 255.0)];
/// let sums: RatioSums = nights.into_iter().collect();
/// assert_eq!(sums.value(), Some(38.0 / 988.0));
/// let range = sums.interval(Confidence::NINETY_FIVE).unwrap();
/// assert!(range.contains(38.0 / 988.0) && range.low > 0.0);
/// ```
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct RatioSums {
    units: u64,
    over: f64,
    under: f64,
    over_squares: f64,
    under_squares: f64,
    products: f64,
}

impl FromIterator<(f64, f64)> for RatioSums {
    fn from_iter<T: IntoIterator<Item = (f64, f64)>>(parts: T) -> Self {
        parts.into_iter().fold(Self::default(), |mut sums, (over, under)| {
            sums.units += 1;
            sums.over += over;
            sums.under += under;
            sums.over_squares += over * over;
            sums.under_squares += under * under;
            sums.products += over * under;
            sums
        })
    }
}

impl RatioSums {
    /// How many nights or other units were added up.
    pub fn units(&self) -> u64 {
        self.units
    }

    /// The sum of the denominators.
    pub fn under(&self) -> f64 {
        self.under
    }

    /// The ratio; none over nothing.
    pub fn value(&self) -> Option<f64> {
        (self.under != 0.0).then(|| self.over / self.under)
    }

    /// The range of the ratio as units differ from each other: the delta method for a ratio of
    /// sums (W. G. Cochran, Sampling Techniques, 3rd ed., 1977, section 6.4, without its correction
    /// for finite populations; from memory) with Student's t. None with fewer than 2 units, or not
    /// above nothing.
    pub fn interval(&self, confidence: Confidence) -> Option<Interval> {
        let value = self.value().filter(|_| self.units > 1 && self.under > 0.0)?;
        let residuals =
            self.over_squares - 2.0 * value * self.products + value * value * self.under_squares;
        let units = self.units as f64;
        let sd = (residuals.max(0.0) * units / (units - 1.0)).sqrt() / self.under;
        let half = confidence.t(self.units - 1) * sd;
        Some(Interval { low: value - half, high: value + half })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Where every denominator is one, a ratio of sums is a mean and its range that of a mean:
    /// 2, 4, 4, 6 have mean 4, sd 1.63299, standard error 0.81650, t of 3 degrees 3.18245 (usual
    /// printed table, from memory; the expansion is within 0.02 of it there).
    #[test]
    fn over_ones_it_is_a_mean() {
        let sums: RatioSums = [2.0, 4.0, 4.0, 6.0].into_iter().map(|x| (x, 1.0)).collect();
        let range = sums.interval(Confidence::NINETY_FIVE).unwrap();
        assert_eq!(sums.value(), Some(4.0));
        assert!((range.high - 4.0 - 3.18245 * 0.81650).abs() < 0.02, "{range:?}");
        assert!((range.high + range.low - 8.0).abs() < 1e-12);
    }

    #[test]
    fn one_unit_or_none_has_no_range() {
        let one: RatioSums = [(1.0, 2.0)].into_iter().collect();
        assert_eq!((one.value(), one.interval(Confidence::NINETY_FIVE)), (Some(0.5), None));
        assert_eq!(RatioSums::default().value(), None);
    }
}
