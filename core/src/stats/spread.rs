use super::StatsError;

/// A standard deviation, in the unit of the figure it belongs to; finite, 0 or more.
///
/// ```
/// use parings_core::stats::StdDev;
/// // Each end of a span is weighed to 2 kg: the difference is known to 2.8 kg.
/// let weighing = StdDev::new(2.0).unwrap();
/// assert!((weighing.and(weighing).value() - 2.83).abs() < 0.005);
/// ```
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd)]
pub struct StdDev(f64);

impl StdDev {
    /// No spread at all; [`StdDev::and`] leaves the other unchanged.
    pub const ZERO: Self = Self(0.0);

    /// A spread of a finite number, 0 or more; else [`StatsError::StdDev`].
    pub fn new(value: f64) -> Result<Self, StatsError> {
        if value.is_finite() && value >= 0.0 { Ok(Self(value)) } else { Err(StatsError::StdDev) }
    }

    /// The standard deviation as a number, in the unit of its figure.
    pub fn value(self) -> f64 {
        self.0
    }

    /// The spread of a sum or difference of two independent figures: squares add.
    pub fn and(self, other: Self) -> Self {
        Self(self.0.hypot(other.0))
    }

    /// The spread of a figure multiplied by a constant; [`StatsError::StdDev`] if not finite.
    ///
    /// ```
    /// use parings_core::stats::StdDev;
    /// // 1.8 % of 244.4 kg
    /// let portioning = StdDev::new(0.018).unwrap().times(244.4).unwrap();
    /// assert!((portioning.value() - 4.4).abs() < 0.01);
    /// ```
    pub fn times(self, factor: f64) -> Result<Self, StatsError> {
        Self::new(self.0 * factor.abs())
    }
}

/// The mean and the spread of a sample.
///
/// ```
/// use parings_core::stats::Sample;
/// let portions_g = Sample::of(&[181.0, 176.0, 190.0, 185.0]).unwrap();
/// assert_eq!(portions_g.mean(), 183.0);
/// assert!((portions_g.sd().unwrap().value() - 5.944).abs() < 0.001);
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sample {
    mean: f64,
    sd: Option<StdDev>,
}

impl Sample {
    /// The sample of at least one value, all finite; else [`StatsError::Sample`]. A sum of squares
    /// beyond the reach of `f64` is [`StatsError::StdDev`].
    pub fn of(values: &[f64]) -> Result<Self, StatsError> {
        if values.is_empty() || values.iter().any(|v| !v.is_finite()) {
            return Err(StatsError::Sample);
        }
        let n = values.len() as f64;
        let mean = values.iter().sum::<f64>() / n;
        if !mean.is_finite() {
            return Err(StatsError::Sample);
        }
        // Two passes, with the correction for the rounding of the mean (Chan, Golub and LeVeque,
        // The American Statistician 37 (1983) 242–247).
        let (drift, squares) = values.iter().fold((0.0, 0.0), |(drift, squares), v| {
            let off = v - mean;
            (drift + off, squares + off * off)
        });
        let sd = match values.len() {
            1 => None,
            _ => Some(StdDev::new(((squares - drift * drift / n) / (n - 1.0)).max(0.0).sqrt())?),
        };
        Ok(Self { mean: mean + drift / n, sd })
    }

    /// The arithmetic mean of the values.
    pub fn mean(self) -> f64 {
        self.mean
    }

    /// The standard deviation of the values, with `n − 1`; `None` for a single value.
    pub fn sd(self) -> Option<StdDev> {
        self.sd
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn close(found: f64, wanted: f64, relative: f64) {
        assert!((found - wanted).abs() <= wanted.abs() * relative, "{found} for {wanted}");
    }

    /// Source: NIST Statistical Reference Datasets, univariate summary statistics, NumAcc1 to
    /// NumAcc4 (data and certified values from memory).
    #[test]
    fn nist_reference_datasets() {
        let swinging = |base: f64| {
            let mut values = vec![base + 0.2];
            (0..500).for_each(|_| values.extend([base + 0.1, base + 0.3]));
            values
        };
        for (values, mean, sd, relative) in [
            (vec![10000001.0, 10000003.0, 10000002.0], 10000002.0, 1.0, 1e-15),
            (swinging(1.0), 1.2, 0.1, 1e-13),
            (swinging(1e6), 1000000.2, 0.1, 1e-9),
            (swinging(1e7), 10000000.2, 0.1, 1e-7),
        ] {
            let sample = Sample::of(&values).unwrap();
            close(sample.mean(), mean, 1e-14);
            close(sample.sd().unwrap().value(), sd, relative);
        }
    }

    /// Source: invented worked example. Count error 2 kg at each end; 20 portions with 8 % spread
    /// on 244.4 kg; together 5.2 kg.
    #[test]
    fn uncertainty_of_the_unexplained() {
        let count = StdDev::new(2.0).unwrap();
        let ends = count.and(count);
        let portions = StdDev::new(0.08 / 20f64.sqrt()).unwrap().times(244.4).unwrap();
        let shown = [ends, portions, ends.and(portions)].map(|sd| format!("{:.1}", sd.value()));
        assert_eq!(shown, ["2.8", "4.4", "5.2"]);
    }

    #[test]
    fn what_has_no_spread_says_so() {
        let one = Sample::of(&[180.0]).unwrap();
        assert_eq!((one.mean(), one.sd()), (180.0, None));
        assert_eq!(Sample::of(&[2.0, 2.0]).unwrap().sd(), Some(StdDev::ZERO));
        assert_eq!(Sample::of(&[]), Err(StatsError::Sample));
        assert_eq!(Sample::of(&[1.0, f64::NAN]), Err(StatsError::Sample));
        assert_eq!(Sample::of(&[f64::MAX, f64::MAX]), Err(StatsError::Sample));
        assert_eq!(StdDev::new(-0.1), Err(StatsError::StdDev));
    }
}
