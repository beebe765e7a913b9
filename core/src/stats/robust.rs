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

    /// Takes at least one value, all finite; else [`StatsError::Sample`].
    pub fn of(values: &[f64]) -> Result<Self, StatsError> {
        let centre = median(values)?;
        let off: Vec<f64> = values.iter().map(|v| (v - centre).abs()).collect();
        Ok(Self { centre, spread: StdDev::new(median(&off)? * Self::SCALE)? })
    }

    /// The median.
    pub fn centre(self) -> f64 {
        self.centre
    }

    /// The scaled median absolute deviation.
    pub fn spread(self) -> StdDev {
        self.spread
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

    #[test]
    fn nothing_has_no_middle() {
        assert_eq!(Robust::of(&[]), Err(StatsError::Sample));
        assert_eq!(Robust::of(&[1.0, f64::INFINITY]), Err(StatsError::Sample));
        assert_eq!(Robust::of(&[7.0]).map(|r| r.spread().value()), Ok(0.0));
    }
}
