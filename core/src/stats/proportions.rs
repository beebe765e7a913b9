use super::{Interval, Proportion, StatsError};

/// Proportions that should be one and the same: the p chart of the NIST/SEMATECH e-Handbook 6.3.3.2.
/// How far a proportion may lie off goes with its trials.
///
/// ```
/// use parings_core::stats::{Proportion, Proportions};
/// // Late tickets by daypart.
/// let [lunch, tea, evening] = [(30, 240), (11, 90), (62, 210)]
///     .map(|(late, of)| Proportion::new(late, of).unwrap());
/// let chart = Proportions::of(&[lunch, tea, evening]).unwrap();
/// assert!(!chart.limits(evening.of()).unwrap().contains(evening.share()));
/// assert!(chart.limits(tea.of()).unwrap().contains(tea.share()));
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Proportions {
    centre: Proportion,
}

impl Proportions {
    /// Takes at least one proportion; else [`StatsError::Sample`]. [`StatsError::Proportion`] when
    /// they count more trials than a number holds.
    pub fn of(proportions: &[Proportion]) -> Result<Self, StatsError> {
        if proportions.is_empty() {
            return Err(StatsError::Sample);
        }
        let sum = |part: fn(Proportion) -> u64| {
            proportions.iter().try_fold(0u64, |sum, one| sum.checked_add(part(*one)))
        };
        let sums = sum(Proportion::hits).zip(sum(Proportion::of));
        let (hits, of) = sums.ok_or(StatsError::Proportion)?;
        Ok(Self { centre: Proportion::new(hits, of)? })
    }

    /// All hits of all trials.
    pub fn centre(self) -> Proportion {
        self.centre
    }

    /// Three standard deviations to either side of the common share, for so many trials, within 0
    /// and 1; [`StatsError::Proportion`] for none.
    pub fn limits(self, trials: u64) -> Result<Interval, StatsError> {
        if trials == 0 {
            return Err(StatsError::Proportion);
        }
        let share = self.centre.share();
        let half = 3.0 * (share * (1.0 - share) / trials as f64).sqrt();
        Ok(Interval { low: (share - half).max(0.0), high: (share + half).min(1.0) })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn out(chart: Proportions, proportions: &[Proportion]) -> Vec<usize> {
        let outside = |one: &Proportion| !chart.limits(one.of()).unwrap().contains(one.share());
        let numbered = proportions.iter().enumerate();
        numbered.filter(|(_, one)| outside(one)).map(|(at, _)| at + 1).collect()
    }

    /// Source: NIST/SEMATECH e-Handbook 6.3.3.2, data of NIST Dataplot MONITOR-6_3_3_2.DAT and of D. C.
    /// Montgomery, Introduction to Statistical Quality Control (1991) 152–155, read in two
    /// repositories; limits printed to 4 decimals, recomputed. Without samples 15 and 23 Montgomery
    /// has 0.2150, 0.0407 to 0.3893, and sample 21 beyond (from memory, recomputed).
    #[test]
    fn nist_6_3_3_2() {
        let hits = [
            12, 15, 8, 10, 4, 7, 16, 9, 14, 10, 5, 6, 17, 12, 22, 8, 10, 5, 13, 11, 20, 18, 24, 15,
            9, 12, 7, 13, 9, 6,
        ];
        let mut samples = hits.map(|hits| Proportion::new(hits, 50).unwrap()).to_vec();
        let chart = Proportions::of(&samples).unwrap();
        assert_eq!(format!("{:.4}", chart.centre().share()), "0.2313");
        let limits = chart.limits(50).unwrap();
        assert_eq!(format!("{:.4} {:.4}", limits.low, limits.high), "0.0524 0.4102");
        assert_eq!(out(chart, &samples), [15, 23]);
        samples.remove(22);
        samples.remove(14);
        let revised = Proportions::of(&samples).unwrap();
        let limits = revised.limits(50).unwrap();
        assert_eq!(format!("{:.4} {:.4}", limits.low, limits.high), "0.0407 0.3893");
        // The 21st, now that the 15th is gone.
        assert_eq!(out(revised, &samples), [20]);
    }

    /// Source: NIST Dataplot CCP.DAT, defective motors in samples of 55 to 395 (read in its
    /// repository); limits recomputed in numpy.
    #[test]
    fn samples_of_unequal_size() {
        let rows = [
            (14, 125, 0.01911759512585251, 0.17968531209945746),
            (19, 200, 0.035931490571421226, 0.16287141665388874),
            (19, 188, 0.03393718523266612, 0.16486572199264385),
            (24, 200, 0.035931490571421226, 0.16287141665388874),
            (15, 200, 0.035931490571421226, 0.16287141665388874),
            (16, 250, 0.042632192856815805, 0.15617071436849417),
            (38, 390, 0.05394966902409441, 0.14485323820121554),
            (40, 360, 0.052093736316122324, 0.14670917090918764),
            (21, 250, 0.042632192856815805, 0.15617071436849417),
            (32, 250, 0.042632192856815805, 0.15617071436849417),
            (40, 395, 0.05423825470107571, 0.14456465252423426),
            (25, 300, 0.047578445797878496, 0.15122446142743146),
            (39, 310, 0.0484211524932088, 0.15038175473210116),
            (36, 200, 0.035931490571421226, 0.16287141665388874),
            (17, 300, 0.047578445797878496, 0.15122446142743146),
            (19, 185, 0.03340852845167028, 0.1653943787736397),
            (4, 55, 0.0, 0.22043392421388855),
            (9, 90, 0.004786019019589666, 0.1940168882057203),
            (12, 130, 0.020676653410591994, 0.17812625381471797),
            (26, 300, 0.047578445797878496, 0.15122446142743146),
        ];
        let samples = rows.map(|(hits, of, ..)| Proportion::new(hits, of).unwrap());
        let chart = Proportions::of(&samples).unwrap();
        for (_, of, low, high) in rows {
            let limits = chart.limits(of).unwrap();
            assert!((limits.low - low).abs() < 1e-12 && (limits.high - high).abs() < 1e-12);
        }
        assert_eq!(out(chart, &samples), [14]);
    }

    #[test]
    fn what_is_no_chart_is_refused() {
        assert_eq!(Proportions::of(&[]), Err(StatsError::Sample));
        let most = Proportion::new(0, u64::MAX).unwrap();
        assert_eq!(Proportions::of(&[most; 2]), Err(StatsError::Proportion));
        let none = Proportions::of(&[most]).unwrap();
        assert_eq!(none.limits(0), Err(StatsError::Proportion));
        assert_eq!(none.limits(9), Ok(Interval { low: 0.0, high: 0.0 }));
    }
}
