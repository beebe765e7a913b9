use super::run_length::{self, STATES, Values};
use super::{StatsError, StdDev};

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

    /// How many values of such a mean and spread, normal and independent, a new chart takes on
    /// average until either side signals: what to choose an allowance and a limit by. A limit is set
    /// by how rarely it may signal while nothing has moved.
    ///
    /// One side is worked out as a Markov chain (D. Brook and D. A. Evans, Biometrika 59 (1972)
    /// 539–549); both together by the sum of their inverses (K. W. Kemp, J. R. Stat. Soc. B 23 (1961)
    /// 149–153; from memory).
    ///
    /// ```
    /// use parings_core::stats::{Cusum, StdDev};
    /// let chart = Cusum::new(0.0, 0.5, 5.0).unwrap();
    /// let sd = StdDev::new(1.0).unwrap();
    /// // One false signal in 465 nights; a shift of a whole spread shows after ten.
    /// assert_eq!(chart.average_run_length(0.0, sd).unwrap().round(), 465.0);
    /// assert_eq!(chart.average_run_length(1.0, sd).unwrap().round(), 10.0);
    /// ```
    ///
    /// # Errors
    /// [`StatsError::Sample`] for a mean that is not finite, [`StatsError::StdDev`] for no spread.
    pub fn average_run_length(&self, mean: f64, sd: StdDev) -> Result<f64, StatsError> {
        let off = Values::new(mean - self.centre, sd)?;
        let sides = [off, off.mirrored()].map(|values| 1.0 / self.one_side(values));
        Ok(1.0 / (sides[0] + sides[1]))
    }

    /// Until the upper side signals.
    fn one_side(&self, off: Values) -> f64 {
        // A state is a step wide about its sum, the first one half a step from 0.
        let step = 2.0 * self.limit / (2 * STATES - 1) as f64;
        let from = |state: usize| {
            let stays = |sum: f64| off.below(sum - state as f64 * step + self.allowance);
            let ends = (0..STATES).map(|to| stays((to as f64 + 0.5) * step));
            ends.scan(0.0, |below, end| Some(end - std::mem::replace(below, end))).collect()
        };
        run_length::average((0..STATES).map(from).collect(), 0)
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

    /// Source: the table of the NIST/SEMATECH e-Handbook 6.3.2.3.1 and of D. C. Montgomery, both sides,
    /// k = ½ (from memory; recomputed with R spc 0.6.7, xcusum.arl).
    #[test]
    fn published_run_lengths() {
        let sd = StdDev::new(1.0).unwrap();
        let shifts = [0.0, 0.25, 0.5, 0.75, 1.0, 1.5, 2.0, 3.0];
        for (limit, printed, lengths) in [
            (
                4.0,
                ["168", "74.2", "26.6", "13.3", "8.38", "4.75", "3.34", "2.19"],
                [167.68, 74.22, 26.63, 13.29, 8.383, 4.747, 3.343, 2.194],
            ),
            (
                5.0,
                ["465", "139", "38.0", "17.0", "10.4", "5.75", "4.01", "2.57"],
                [465.44, 139.49, 38.0, 17.05, 10.376, 5.747, 4.009, 2.573],
            ),
        ] {
            let chart = Cusum::new(0.0, 0.5, limit).unwrap();
            for ((shift, printed), length) in shifts.into_iter().zip(printed).zip(lengths) {
                let found = chart.average_run_length(shift, sd).unwrap();
                assert!((found / length - 1.0).abs() < 1e-3, "{limit} {shift}: {found}");
                let printed: f64 = printed.parse().unwrap();
                assert!((found / printed - 1.0).abs() < 5e-3, "{limit} {shift}: {found}");
            }
        }
        // The same in other units, and for a shift the other way.
        let chart = Cusum::new(325.0, 1.0, 8.0).unwrap();
        let found = chart.average_run_length(323.0, StdDev::new(2.0).unwrap()).unwrap();
        assert!((found / 8.383 - 1.0).abs() < 1e-3, "{found}");
    }

    #[test]
    fn what_is_no_chart_is_refused() {
        let chart = Cusum::new(0.0, 0.5, 5.0).unwrap();
        assert_eq!(chart.average_run_length(0.0, StdDev::ZERO), Err(StatsError::StdDev));
        let sd = StdDev::new(1.0).unwrap();
        assert_eq!(chart.average_run_length(f64::NAN, sd), Err(StatsError::Sample));
        for bad in [(f64::NAN, 0.5, 5.0), (0.0, -0.1, 5.0), (0.0, 0.5, f64::INFINITY)] {
            assert_eq!(Cusum::new(bad.0, bad.1, bad.2), Err(StatsError::Sample));
        }
    }
}
