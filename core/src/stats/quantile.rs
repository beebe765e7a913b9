use super::StatsError;

/// Which percentile, in exact thousandths: 0 to 1000.
///
/// Thousandths, because `ceil(0.07 × 100)` in floating point is 8, not 7.
///
/// ```
/// use parings_core::stats::Percentile;
/// assert_eq!(Percentile::per_mille(900).unwrap(), Percentile::P90);
/// assert!(Percentile::per_mille(1001).is_err());
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Percentile(u16);

impl Percentile {
    /// The median: the value that half of all do not pass.
    pub const P50: Self = Self(500);
    /// The value that nine in ten do not pass.
    pub const P90: Self = Self(900);

    /// The percentile of so many thousandths, 0 to 1000; else [`StatsError::Percentile`].
    pub fn per_mille(thousandths: u16) -> Result<Self, StatsError> {
        if thousandths <= 1000 { Ok(Self(thousandths)) } else { Err(StatsError::Percentile) }
    }

    /// The nearest rank among `n` sorted values, counted from 1: `ceil(p·n)`, at least 1.
    /// `None` when there are no values.
    ///
    /// ```
    /// use parings_core::stats::Percentile;
    /// assert_eq!(Percentile::P90.rank(248), Some(224));
    /// assert_eq!(Percentile::P90.rank(0), None);
    /// ```
    pub fn rank(self, n: u64) -> Option<u64> {
        // u128, as n in thousandths may pass the end of u64; the result is at most n.
        let rank = (u128::from(n) * u128::from(self.0)).div_ceil(1000).max(1);
        (n > 0).then_some(rank as u64)
    }
}

/// The percentile of sorted values by nearest rank (definition 1 of Hyndman and Fan): always one of
/// the values. `None` when there are none. The values must be in ascending order.
///
/// ```
/// use parings_core::stats::{Percentile, nearest_rank};
/// let seconds = [212, 290, 305, 340, 345, 402, 410, 466, 530, 1120];
/// assert_eq!(nearest_rank(&seconds, Percentile::P50), Some(345));
/// assert_eq!(nearest_rank(&seconds, Percentile::P90), Some(530));
/// ```
pub fn nearest_rank<T: Copy>(sorted: &[T], p: Percentile) -> Option<T> {
    let rank = p.rank(sorted.len() as u64)?;
    sorted.get(rank as usize - 1).copied()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(values: &[u32], per_mille: u16) -> u32 {
        let mut sorted = values.to_vec();
        sorted.sort_unstable();
        nearest_rank(&sorted, Percentile::per_mille(per_mille).unwrap()).unwrap()
    }

    /// Source: NIST/SEMATECH e-Handbook 7.2.6.2, data read in copies of the source; type 1 of R
    /// 4.2.2 quantile(). In ten-thousandths.
    #[test]
    fn nist_wafer_percentiles() {
        let values = [
            951772, 951567, 951937, 951959, 951442, 950610, 951591, 951195, 951065, 950925, 951990,
            951682,
        ];
        for (p, type1) in [
            (100, 950925),
            (250, 951065),
            (500, 951567),
            (750, 951772),
            (900, 951959),
            (950, 951990),
            (990, 951990),
        ] {
            assert_eq!(at(&values, p), type1, "{p}");
        }
    }

    /// Source: R. J. Hyndman and Y. Fan, The American Statistician 50 (1996) 361–365, definition
    /// 1; recomputed with R 4.2.2 quantile(type = 1).
    #[test]
    fn hyndman_and_fan_definition_1() {
        let values = [15, 20, 35, 40, 50];
        for (p, type1) in [
            (0, 15),
            (50, 15),
            (250, 20),
            (300, 20),
            (400, 20),
            (500, 35),
            (750, 40),
            (950, 50),
            (1000, 50),
        ] {
            assert_eq!(at(&values, p), type1, "{p}");
        }
    }

    #[test]
    fn ranks_are_exact() {
        assert_eq!(Percentile::per_mille(70).unwrap().rank(100), Some(7));
        assert_eq!(Percentile::per_mille(1000).unwrap().rank(u64::MAX), Some(u64::MAX));
        assert_eq!(nearest_rank::<u32>(&[], Percentile::P50), None);
    }
}
