use super::{StatsError, StdDev};

/// Where values lie and how far apart, unmoved by a few wild ones: the median, and the median
/// absolute deviation scaled so that it estimates a standard deviation where values are normal.
///
/// ```
/// use parings_core::stats::Robust;
/// // Nine quiet nights and one wild one.
/// let nights = [1.0, 2.0, 2.0, 3.0, 3.0, 3.0, 4.0, 4.0, 5.0, 400.0];
/// let usual = Robust::of(&nights).unwrap();
/// assert_eq!(usual.centre(), 3.0);
/// assert!((usual.spread().value() - 1.4826).abs() < 1e-4);
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Robust {
    centre: f64,
    spread: StdDev,
}

impl Robust {
    /// 1 ÷ Φ⁻¹(¾): what makes the median absolute deviation of normal values their standard
    /// deviation.
    pub const SCALE: f64 = 1.482_602_218_505_602;

    /// The middle and spread of at least one value, all finite; else [`StatsError::Sample`].
    pub fn of(values: &[f64]) -> Result<Self, StatsError> {
        let centre = median(values)?;
        let off: Vec<f64> = values.iter().map(|v| (v - centre).abs()).collect();
        Ok(Self { centre, spread: StdDev::new(median(&off)? * Self::SCALE)? })
    }

    /// The median of the values.
    pub fn centre(self) -> f64 {
        self.centre
    }

    /// The scaled median absolute deviation.
    pub fn spread(self) -> StdDev {
        self.spread
    }

    /// From here on a modified z is worth a look.
    pub const OUTLYING: f64 = 3.5;

    /// How far a value lies off by the modified z of B. Iglewicz and D. C. Hoaglin, How to Detect
    /// and Handle Outliers (1993): 0.6745 × (value − median) ÷ median absolute deviation. One beyond
    /// [`Self::OUTLYING`] either way lies out. None where half of the values are the same: their
    /// deviation is nothing, and it cannot be told how far is far.
    ///
    /// ```
    /// use parings_core::stats::Robust;
    /// let peers = Robust::of(&[3.1, 2.8, 3.4, 3.0, 2.9]).unwrap();
    /// assert!(peers.modified_z(4.2).unwrap() > Robust::OUTLYING);
    /// assert_eq!(Robust::of(&[3.0, 3.0, 3.0]).unwrap().modified_z(4.2), None);
    /// ```
    pub fn modified_z(self, value: f64) -> Option<f64> {
        let deviation = self.spread.value() / Self::SCALE;
        (deviation > 0.0).then(|| 0.6745 * (value - self.centre) / deviation)
    }
}

/// The middle value, or the mean of the middle two.
fn median(values: &[f64]) -> Result<f64, StatsError> {
    if values.is_empty() || values.iter().any(|v| !v.is_finite()) {
        return Err(StatsError::Sample);
    }
    let mut sorted = values.to_vec();
    sorted.sort_unstable_by(f64::total_cmp);
    let middle = sorted.len() / 2;
    Ok(if sorted.len() % 2 == 1 {
        sorted[middle]
    } else {
        sorted[middle - 1].midpoint(sorted[middle])
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Source: B. Iglewicz and D. C. Hoaglin, How to Detect and Handle Outliers (1993), the worked
    /// median and MAD of ten values with two outliers (from memory); recomputed by hand: sorted
    /// 2.1 2.6 2.9 3.2 3.4 3.6 3.7 4.5 9.8 12, median 3.5; off 0.1 0.1 0.2 0.3 0.6 0.9 1.0 1.4 6.3 8.5.
    #[test]
    fn the_median_and_its_deviation() {
        let values = [3.2, 2.1, 9.8, 3.6, 12.0, 2.9, 4.5, 3.4, 3.7, 2.6];
        let robust = Robust::of(&values).unwrap();
        assert!((robust.centre() - 3.5).abs() < 1e-12);
        assert!((robust.spread().value() - 0.75 * Robust::SCALE).abs() < 1e-12);
    }

    /// Source: NIST/SEMATECH e-Handbook 1.3.5.17 (the rule, 0.6745 and 3.5, read in a copy) with the
    /// uranium data of 1.3.5.17.1 (Grubbs, Tietjen and Moore 1972; read in a copy); figures recomputed.
    #[test]
    fn modified_z_of_the_uranium_data() {
        let values = [199.31, 199.53, 200.19, 200.82, 201.92, 201.95, 202.18, 245.57];
        let of = Robust::of(&values).unwrap();
        assert!((of.centre() - 201.37).abs() < 1e-9);
        let expected = [
            -1.3964522613065278,
            -1.2473165829145694,
            -0.7999095477386944,
            -0.3728391959799055,
            0.37283919597988624,
            0.3931758793969723,
            0.5490904522613056,
            29.96271356783905,
        ];
        for (value, z) in values.into_iter().zip(expected) {
            assert!((of.modified_z(value).unwrap() - z).abs() < 1e-9, "{value}");
        }
    }

    /// Source: B. Rosner, Technometrics 25 (1983) 165–172, data read in the NIST Dataplot repository
    /// (ROSNER.DAT); median, deviation and the three beyond 3.5 recomputed.
    #[test]
    fn modified_z_of_rosners_data() {
        let values = [
            -0.25, 0.68, 0.94, 1.15, 1.2, 1.26, 1.26, 1.34, 1.38, 1.43, 1.49, 1.49, 1.55, 1.56,
            1.58, 1.65, 1.69, 1.7, 1.76, 1.77, 1.81, 1.91, 1.94, 1.96, 1.99, 2.06, 2.09, 2.1, 2.14,
            2.15, 2.23, 2.24, 2.26, 2.35, 2.37, 2.4, 2.47, 2.54, 2.62, 2.64, 2.9, 2.92, 2.92, 2.93,
            3.21, 3.26, 3.3, 3.59, 3.68, 4.3, 4.64, 5.34, 5.42, 6.01,
        ];
        let of = Robust::of(&values).unwrap();
        assert!((of.centre() - 2.095).abs() < 1e-9);
        let out = |value: &f64| of.modified_z(*value).unwrap().abs() > Robust::OUTLYING;
        let out: Vec<_> = values.into_iter().filter(out).collect();
        assert_eq!(out, [5.34, 5.42, 6.01]);
    }

    #[test]
    fn nothing_has_no_middle() {
        assert_eq!(Robust::of(&[]), Err(StatsError::Sample));
        assert_eq!(Robust::of(&[1.0, f64::INFINITY]), Err(StatsError::Sample));
        assert_eq!(Robust::of(&[7.0]).map(|r| r.spread().value()), Ok(0.0));
    }
}
