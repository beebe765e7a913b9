use super::run_length::{self, STATES, Values};
use super::{Interval, StatsError, StdDev};

/// An exponentially weighted moving average: S. W. Roberts, Technometrics 1 (1959) 239–250; as in
/// the NIST/SEMATECH e-Handbook 6.3.2.4.
///
/// ```
/// use parings_core::stats::Ewma;
/// let mut chart = Ewma::new(50.0, 0.3).unwrap();
/// assert_eq!(chart.add(52.0), 50.6);
/// let limits = chart.limits(2.0539, 3.0);
/// assert!(limits.contains(chart.value()));
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ewma {
    centre: f64,
    weight: f64,
    value: f64,
    count: i32,
}

impl Ewma {
    /// Starts at a finite centre with the weight of a new value, more than 0 and at most 1; else
    /// [`StatsError::Sample`].
    pub fn new(centre: f64, weight: f64) -> Result<Self, StatsError> {
        if !(centre.is_finite() && weight > 0.0 && weight <= 1.0) {
            return Err(StatsError::Sample);
        }
        Ok(Self { centre, weight, value: centre, count: 0 })
    }

    /// Takes the next value and returns the average.
    pub fn add(&mut self, value: f64) -> f64 {
        self.value += self.weight * (value - self.value);
        self.count = self.count.saturating_add(1);
        self.value
    }

    /// The average.
    pub fn value(&self) -> f64 {
        self.value
    }

    /// Its limits, `width` of its own standard deviations to either side of the centre, where single
    /// values have the standard deviation `sd`: those of the values taken so far.
    pub fn limits(&self, sd: f64, width: f64) -> Interval {
        let left = (1.0 - self.weight).powi(2 * self.count);
        self.around(width * sd * (self.weight / (2.0 - self.weight) * (1.0 - left)).sqrt())
    }

    /// The limits after many values.
    pub fn steady_limits(&self, sd: f64, width: f64) -> Interval {
        self.around(width * sd * (self.weight / (2.0 - self.weight)).sqrt())
    }

    /// How many values of such a mean, normal and independent with the standard deviation `sd`, a new
    /// chart takes on average until it leaves its steady limits, `width` of its own standard
    /// deviations wide: what to choose a weight and a width by. Worked out as a Markov chain (J. M.
    /// Lucas and M. S. Saccucci, Technometrics 32 (1990) 1–12).
    ///
    /// ```
    /// use parings_core::stats::{Ewma, StdDev};
    /// let chart = Ewma::new(0.0, 0.1).unwrap();
    /// let sd = StdDev::new(1.0).unwrap();
    /// assert!((chart.average_run_length(2.814, 0.0, sd).unwrap() - 500.0).abs() < 1.0);
    /// assert_eq!(chart.average_run_length(2.814, 1.0, sd).unwrap().round(), 10.0);
    /// ```
    ///
    /// # Errors
    /// [`StatsError::Sample`] for a width that is not finite and above 0 or a mean that is not finite,
    /// [`StatsError::StdDev`] for no spread.
    pub fn average_run_length(&self, width: f64, mean: f64, sd: StdDev) -> Result<f64, StatsError> {
        if !(width.is_finite() && width > 0.0) {
            return Err(StatsError::Sample);
        }
        let off = Values::new(mean - self.centre, sd)?;
        let limits = self.steady_limits(sd.value(), width);
        let low = limits.low - self.centre;
        let step = (limits.high - limits.low) / STATES as f64;
        let from = |state: usize| {
            let average = low + (state as f64 + 0.5) * step;
            let stays = |end: f64| off.below((end - (1.0 - self.weight) * average) / self.weight);
            let ends = (0..STATES).map(|to| stays(low + (to + 1) as f64 * step));
            ends.scan(stays(low), |below, end| Some(end - std::mem::replace(below, end))).collect()
        };
        Ok(run_length::average((0..STATES).map(from).collect(), STATES / 2))
    }

    fn around(&self, half: f64) -> Interval {
        Interval { low: self.centre - half, high: self.centre + half }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Source: NIST/SEMATECH e-Handbook 6.3.2.4, read in three copies; recomputed. It rounds the
    /// square root of 0.3/1.7, so its limits are good to a ten-thousandth.
    #[test]
    fn nist_6_3_2_4() {
        let values = [
            52.0, 47.0, 53.0, 49.3, 50.1, 47.0, 51.0, 50.1, 51.2, 50.5, 49.6, 47.6, 49.9, 51.3,
            47.8, 51.2, 52.6, 52.4, 53.6, 52.1,
        ];
        let printed = [
            50.6, 49.52, 50.56, 50.18, 50.16, 49.21, 49.75, 49.85, 50.26, 50.33, 50.11, 49.36,
            49.52, 50.05, 49.38, 49.92, 50.73, 51.23, 51.94, 51.99,
        ];
        let mut chart = Ewma::new(50.0, 0.3).unwrap();
        let limits = chart.steady_limits(2.0539, 3.0);
        assert!((limits.high - 52.5884).abs() < 1e-4 && (limits.low - 47.4115).abs() < 1.1e-4);
        for (value, average) in values.into_iter().zip(printed) {
            assert!((chart.add(value) - average).abs() < 0.00501, "{value}");
            assert!(limits.contains(chart.value()));
        }
    }

    /// Source: qcc 3.0, tests/testthat/test-ewma.R (numbers read in its repository).
    #[test]
    fn qcc_limits_that_widen() {
        let mut chart = Ewma::new(10.0, 0.5).unwrap();
        for (value, average, sd) in
            [(11.0, 10.5, 1.0), (13.0, 11.75, 1.118033988749895), (12.0, 11.875, 1.14564392373896)]
        {
            assert_eq!(chart.add(value), average);
            let limits = chart.limits(2.0, 2.0);
            assert!((limits.high - 10.0 - 2.0 * sd).abs() < 1e-12, "{limits:?}");
        }
    }

    /// Source: designs of 500 values of Lucas and Saccucci (1990), as R spc 0.6.7 xewma.arl has them
    /// (recomputed). Cutting averages into states costs a little over a thousandth at the least weight.
    #[test]
    fn published_run_lengths() {
        let sd = StdDev::new(2.0).unwrap();
        for (weight, width, nothing, one_sd) in [
            (0.05, 2.615, 499.93, 11.38),
            (0.1, 2.814, 499.58, 10.33),
            (0.2, 2.962, 499.74, 10.54),
            (0.25, 2.998, 499.84, 11.14),
            (0.4, 3.054, 499.95, 14.26),
            (1.0, 3.09, 499.61, 54.55),
        ] {
            let chart = Ewma::new(10.0, weight).unwrap();
            for (mean, length) in [(10.0, nothing), (12.0, one_sd), (8.0, one_sd)] {
                let found = chart.average_run_length(width, mean, sd).unwrap();
                assert!((found / length - 1.0).abs() < 2e-3, "{weight} {mean}: {found}");
            }
        }
        let chart = Ewma::new(0.0, 0.1).unwrap();
        assert_eq!(chart.average_run_length(0.0, 0.0, sd), Err(StatsError::Sample));
        assert_eq!(chart.average_run_length(3.0, 0.0, StdDev::ZERO), Err(StatsError::StdDev));
    }

    #[test]
    fn what_is_no_chart_is_refused() {
        for (centre, weight) in [(f64::NAN, 0.3), (0.0, 0.0), (0.0, 1.1)] {
            assert_eq!(Ewma::new(centre, weight), Err(StatsError::Sample));
        }
    }
}
