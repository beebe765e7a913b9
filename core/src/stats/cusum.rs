use super::StatsError;

/// A two-sided cumulative sum: how far values have drifted from a centre, either way, beyond an
/// allowance. E. S. Page, Biometrika 41 (1954) 100–115; as tabled in the NIST/SEMATECH e-Handbook
/// 6.3.2.3. Use one side of it for a one-sided chart.
///
/// ```
/// use parings_core::stats::Cusum;
/// // In units of the spread: an allowance of half a spread, a limit of five.
/// let mut chart = Cusum::new(0.0, 0.5, 5.0).unwrap();
/// let signals: Vec<bool> =
///     [0.2, -0.4, 1.9, 2.3, 1.6, 2.1].into_iter().map(|x| chart.add(x).above).collect();
/// assert_eq!(signals, [false, false, false, false, false, true]);
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Cusum {
    centre: f64,
    allowance: f64,
    limit: f64,
    high: f64,
    low: f64,
}

/// Where a cumulative sum stands after a value.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CusumPoint {
    /// The upper sum.
    pub high: f64,
    /// The lower sum, not below 0.
    pub low: f64,
    /// Whether the upper sum lies beyond the limit; on it is not beyond.
    pub above: bool,
    /// Whether the lower one does.
    pub below: bool,
}

impl Cusum {
    /// A chart around a centre, with an allowance and a limit in the unit of the values: finite
    /// numbers, the last two not below 0; else [`StatsError::Sample`].
    pub fn new(centre: f64, allowance: f64, limit: f64) -> Result<Self, StatsError> {
        let sound = centre.is_finite() && allowance.is_finite() && limit.is_finite();
        if !sound || allowance < 0.0 || limit < 0.0 {
            return Err(StatsError::Sample);
        }
        Ok(Self { centre, allowance, limit, high: 0.0, low: 0.0 })
    }

    /// Takes the next value.
    pub fn add(&mut self, value: f64) -> CusumPoint {
        let off = value - self.centre;
        self.high = (self.high + off - self.allowance).max(0.0);
        self.low = (self.low - off - self.allowance).max(0.0);
        let (high, low) = (self.high, self.low);
        CusumPoint { high, low, above: high > self.limit, below: low > self.limit }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Source: NIST/SEMATECH e-Handbook 6.3.2.3, read in three copies; recomputed. k and h are taken
    /// as given, for the printed design formula does not give 4.1959. Printed to 2 decimals.
    #[test]
    fn nist_6_3_2_3() {
        let values = [
            324.925, 324.675, 324.725, 324.35, 325.35, 325.225, 324.125, 324.525, 325.225, 324.6,
            324.625, 325.15, 328.325, 327.25, 327.825, 328.5, 326.675, 327.775, 326.875, 328.35,
        ];
        let high = [
            0.0, 0.0, 0.0, 0.0, 0.03, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 3.01, 4.94, 7.45, 10.63,
            11.99, 14.44, 16.0, 19.04,
        ];
        let low = [0.0, 0.01, 0.0, 0.33, 0.0, 0.0, 0.56, 0.72, 0.17, 0.25, 0.31];
        let mut chart = Cusum::new(325.0, 0.3175, 4.1959).unwrap();
        let points: Vec<_> = values.iter().map(|x| chart.add(*x)).collect();
        for (group, point) in points.iter().enumerate() {
            assert!((point.high - high[group]).abs() < 0.00501, "{group}: {point:?}");
            let low = low.get(group).copied().unwrap_or(0.0);
            assert!((point.low - low).abs() < 0.00501, "{group}: {point:?}");
            assert_eq!(point.above, group + 1 >= 14, "{group}");
            assert!(!point.below);
        }
    }

    /// Source: qcc 3.0, tests/testthat/test-cusum.R (numbers read in its repository).
    #[test]
    fn qcc_in_units_of_the_spread() {
        let mut chart = Cusum::new(0.0, 0.5, 1.0).unwrap();
        let points = [1.5, 0.5, 0.6, -1.5, -0.5, -0.8].map(|x| chart.add(x));
        let close = |found: f64, wanted: f64| (found - wanted).abs() < 1e-12;
        for (point, (high, low)) in points.iter().zip([
            (1.0, 0.0),
            (1.0, 0.0),
            (1.1, 0.0),
            (0.0, 1.0),
            (0.0, 1.0),
            (0.0, 1.3),
        ]) {
            assert!(close(point.high, high) && close(point.low, low), "{point:?}");
        }
        assert_eq!(points.map(|p| p.above), [false, false, true, false, false, false]);
        assert_eq!(points.map(|p| p.below), [false, false, false, false, false, true]);
    }

    #[test]
    fn what_is_no_chart_is_refused() {
        for bad in [(f64::NAN, 0.5, 5.0), (0.0, -0.1, 5.0), (0.0, 0.5, f64::INFINITY)] {
            assert_eq!(Cusum::new(bad.0, bad.1, bad.2), Err(StatsError::Sample));
        }
    }
}
