use super::{Interval, StatsError};

/// The unbiasing constant d2 for ranges of two: 2 ÷ √π (ASTM E2587; printed as 1.128).
pub const D2_OF_TWO: f64 = std::f64::consts::FRAC_2_SQRT_PI;

/// The standard deviation of ranges of two, d3: √(2 − 4 ÷ π) (printed as 0.853).
fn d3_of_two() -> f64 {
    (2.0 - D2_OF_TWO * D2_OF_TWO).sqrt()
}

/// Single values whose spread is told by the steps between neighbours, so that a drift does not widen
/// its own limits: the individuals and moving range chart of the NIST/SEMATECH e-Handbook 6.3.2.2.
///
/// ```
/// use parings_core::stats::Individuals;
/// let chart = Individuals::of(&[49.6, 47.6, 49.9, 51.3, 47.8]).unwrap();
/// assert!(chart.limits().contains(51.3));
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Individuals {
    mean: f64,
    moving_range: f64,
}

impl Individuals {
    /// Takes at least two values, all finite; else [`StatsError::Sample`].
    pub fn of(values: &[f64]) -> Result<Self, StatsError> {
        if values.len() < 2 || values.iter().any(|x| !x.is_finite()) {
            return Err(StatsError::Sample);
        }
        let n = values.len() as f64;
        let steps: f64 = values.windows(2).map(|pair| (pair[1] - pair[0]).abs()).sum();
        Ok(Self { mean: values.iter().sum::<f64>() / n, moving_range: steps / (n - 1.0) })
    }

    /// The mean.
    pub fn mean(self) -> f64 {
        self.mean
    }

    /// The mean step between neighbours.
    pub fn moving_range(self) -> f64 {
        self.moving_range
    }

    /// The standard deviation that such steps speak of.
    pub fn sd(self) -> f64 {
        self.moving_range / D2_OF_TWO
    }

    /// The step beyond which neighbours differ by more than their mean step makes likely: D4 of it,
    /// printed as 3.267.
    ///
    /// ```
    /// use parings_core::stats::Individuals;
    /// let chart = Individuals::of(&[50.0, 52.0, 50.0, 52.0]).unwrap();
    /// assert!((chart.furthest_step() - 3.267 * 2.0).abs() < 0.001);
    /// ```
    pub fn furthest_step(self) -> f64 {
        self.moving_range * (1.0 + 3.0 * d3_of_two() / D2_OF_TWO)
    }

    /// Three standard deviations to either side of the mean.
    pub fn limits(self) -> Interval {
        let half = 3.0 * self.sd();
        Interval { low: self.mean - half, high: self.mean + half }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Source: NIST/SEMATECH e-Handbook 6.3.2.2, read in copies; recomputed with d2 = 1.128, which is
    /// printed to three decimals, so limits agree to 2e-3.
    #[test]
    fn nist_6_3_2_2() {
        let values = [49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1];
        let chart = Individuals::of(&values).unwrap();
        assert!((chart.mean() - 50.81).abs() < 1e-9);
        assert!((chart.moving_range() - 1.8778).abs() < 5e-5);
        let limits = chart.limits();
        assert!((limits.high - 55.8041).abs() < 2e-3 && (limits.low - 45.8159).abs() < 2e-3);
        assert!(values.iter().all(|x| limits.contains(*x)));
        assert!((chart.furthest_step() - 3.267 * 1.8778).abs() < 2e-3);
        assert_eq!(Individuals::of(&[1.0]), Err(StatsError::Sample));
    }

    /// Source: definitions of ASTM E2587 and D. C. Montgomery, appendix VI, by numerical integration;
    /// 1.128 and 3.267 read in a copy of the NIST/SEMATECH e-Handbook, 0.853 and 2.660 from memory (the
    /// last is 3 ÷ 1.128, rounded up).
    #[test]
    fn constants_for_ranges_of_two() {
        assert_eq!(format!("{D2_OF_TWO:.5}"), "1.12838");
        assert!((d3_of_two() - 0.8525024664274217).abs() < 1e-12);
        let one = Individuals { mean: 0.0, moving_range: 1.0 };
        assert!((one.furthest_step() - 3.2665319192886013).abs() < 1e-12);
        assert!((one.limits().high - 2.658680776358274).abs() < 1e-12);
        assert!((one.limits().high - 2.660).abs() < 2e-3);
    }
}
