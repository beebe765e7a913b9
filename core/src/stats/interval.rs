use super::{StatsError, normal, student};

/// How sure an interval is meant to be, more than 0 and less than 1.
///
/// ```
/// use parings_core::stats::Confidence;
/// assert_eq!(Confidence::new(0.95).unwrap(), Confidence::NINETY_FIVE);
/// assert!(Confidence::new(1.0).is_err());
/// ```
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd)]
pub struct Confidence(f64);

impl Confidence {
    /// 95 %.
    pub const NINETY_FIVE: Self = Self(0.95);

    /// A confidence strictly between 0 and 1; else [`StatsError::Confidence`].
    pub fn new(confidence: f64) -> Result<Self, StatsError> {
        if confidence > 0.0 && confidence < 1.0 {
            Ok(Self(confidence))
        } else {
            Err(StatsError::Confidence)
        }
    }

    /// The confidence as a number between 0 and 1.
    ///
    /// ```
    /// assert_eq!(parings_core::stats::Confidence::NINETY_FIVE.level(), 0.95);
    /// ```
    pub fn level(self) -> f64 {
        self.0
    }

    /// How many standard deviations to either side of a normal mean hold this share.
    ///
    /// ```
    /// let z = parings_core::stats::Confidence::NINETY_FIVE.z();
    /// assert!((z - 1.959964).abs() < 1e-6);
    /// ```
    pub fn z(self) -> f64 {
        -normal::quantile((1.0 - self.0) / 2.0)
    }

    /// The same of Student's t, for a spread that is itself estimated, by so many degrees of
    /// freedom; without bound with none.
    ///
    /// ```
    /// use parings_core::stats::Confidence;
    /// assert!((Confidence::NINETY_FIVE.t(9) - 2.262157).abs() < 1e-6);
    /// ```
    pub fn t(self, degrees: u64) -> f64 {
        student::beyond((1.0 - self.0) / 2.0, degrees)
    }
}

/// A range that holds the true value as often as its confidence says. Ranges do not add or
/// average: merge what they are made from and make them again.
///
/// ```compile_fail,E0369
/// use parings_core::stats::{Confidence, Proportion};
/// let wilson = |hits, of| Proportion::new(hits, of).unwrap().wilson(Confidence::NINETY_FIVE);
/// let sum = wilson(212, 248) + wilson(90, 120);
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Interval {
    /// The least value that the range holds.
    pub low: f64,
    /// The greatest value that the range holds.
    pub high: f64,
}

impl Interval {
    /// Whether a value lies in the range, its limits included.
    ///
    /// ```
    /// use parings_core::stats::Interval;
    /// let unexplained_kg = Interval { low: -2.8, high: 7.6 };
    /// assert!(unexplained_kg.contains(0.0)); // cannot tell from zero
    /// ```
    pub fn contains(self, value: f64) -> bool {
        (self.low..=self.high).contains(&value)
    }
}

/// So many hits of so many trials. Its two counts travel with the ratio. Proportions do not
/// average: make one from all hits and all trials.
///
/// ```compile_fail,E0277
/// use parings_core::stats::Proportion;
/// let both = [Proportion::new(212, 248).unwrap(), Proportion::new(90, 120).unwrap()];
/// let sum: Proportion = both.into_iter().sum();
/// ```
///
/// ```
/// use parings_core::stats::Proportion;
/// let within_target = Proportion::new(212, 248).unwrap();
/// assert!((within_target.share() - 0.855).abs() < 0.0005);
/// assert!(Proportion::new(0, 0).is_err());
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Proportion {
    hits: u64,
    of: u64,
}

impl Proportion {
    /// A proportion of hits and trials: at least one trial, no more hits than trials; else
    /// [`StatsError::Proportion`].
    pub fn new(hits: u64, of: u64) -> Result<Self, StatsError> {
        if of == 0 || hits > of { Err(StatsError::Proportion) } else { Ok(Self { hits, of }) }
    }

    /// How many of the trials were hits.
    pub fn hits(self) -> u64 {
        self.hits
    }

    /// How many trials there were.
    pub fn of(self) -> u64 {
        self.of
    }

    /// Hits as a part of the trials, 0 to 1.
    pub fn share(self) -> f64 {
        self.hits as f64 / self.of as f64
    }

    /// Wilson's score interval for the true share: E. B. Wilson, J. Am. Stat. Assoc. 22 (1927)
    /// 209–212. Sound for few trials and for shares near 0 and 1.
    ///
    /// ```
    /// use parings_core::stats::{Confidence, Proportion};
    /// let range = Proportion::new(212, 248).unwrap().wilson(Confidence::NINETY_FIVE);
    /// assert_eq!(format!("{:.3} to {:.3}", range.low, range.high), "0.806 to 0.893");
    /// ```
    pub fn wilson(self, confidence: Confidence) -> Interval {
        let (n, share, z) = (self.of as f64, self.share(), confidence.z());
        let z2 = z * z;
        let centre = share + z2 / (2.0 * n);
        let half = z * (share * (1.0 - share) / n + z2 / (4.0 * n * n)).sqrt();
        let scale = 1.0 + z2 / n;
        // With no hit, or no miss, the limit is exactly 0, or 1; rounding must not blur that.
        let low = if self.hits == 0 { 0.0 } else { (centre - half) / scale };
        let high = if self.hits == self.of { 1.0 } else { (centre + half) / scale };
        Interval { low, high }
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    /// Source: R. G. Newcombe, Statistics in Medicine 17 (1998) 857–872, table I. Printed limits
    /// from memory; long figures recomputed with statsmodels proportion_confint.
    #[test]
    fn wilson_limits_of_newcombe() {
        for (hits, of, printed, low, high) in [
            (81, 263, [0.2553, 0.3662], 0.2552885198782742, 0.36620957698280004),
            (15, 148, [0.0624, 0.1605], 0.06238639953073628, 0.16048724172330803),
            (0, 20, [0.0, 0.1611], 0.0, 0.1611251580528194),
            (1, 29, [0.0061, 0.1718], 0.006113214292762667, 0.17175521879320294),
        ] {
            let found = Proportion::new(hits, of).unwrap().wilson(Confidence::NINETY_FIVE);
            assert!((found.low - low).abs() < 1e-12, "{hits}/{of}: {found:?}");
            assert!((found.high - high).abs() < 1e-12, "{hits}/{of}: {found:?}");
            assert!((found.low - printed[0]).abs() <= 5.1e-5, "{hits}/{of}: {found:?}");
            assert!((found.high - printed[1]).abs() <= 5.1e-5, "{hits}/{of}: {found:?}");
        }
    }

    /// Source: invented worked example, 212 of 248 tickets within target: 85.5 %, 80.6 to 89.3 %.
    #[test]
    fn tickets_within_target() {
        let tickets = Proportion::new(212, 248).unwrap();
        let range = tickets.wilson(Confidence::NINETY_FIVE);
        let shown = [tickets.share(), range.low, range.high].map(|x| format!("{:.1}", x * 100.0));
        assert_eq!(shown, ["85.5", "80.6", "89.3"]);
    }

    #[test]
    fn what_is_no_proportion_or_confidence_is_refused() {
        assert_eq!(Proportion::new(3, 2), Err(StatsError::Proportion));
        for bad in [0.0, 1.0, -0.1, f64::NAN, f64::INFINITY] {
            assert_eq!(Confidence::new(bad), Err(StatsError::Confidence), "{bad}");
        }
    }

    proptest! {
        #[test]
        fn wilson_holds_the_share_and_mirrors(of in 1u64..100_000, part in 0.0..=1.0f64) {
            let hits = (of as f64 * part) as u64;
            let hit = Proportion::new(hits, of).unwrap();
            let miss = Proportion::new(of - hits, of).unwrap();
            let (a, b) = (hit.wilson(Confidence::NINETY_FIVE), miss.wilson(Confidence::NINETY_FIVE));
            prop_assert!(a.contains(hit.share()) && a.low >= 0.0 && a.high <= 1.0);
            prop_assert!((a.low + b.high - 1.0).abs() < 1e-12);
        }
    }
}
