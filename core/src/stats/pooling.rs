use super::StatsError;

/// A figure that is known only so well: its value and the variance of its error.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Noisy {
    /// The figure as it was measured.
    pub value: f64,
    /// The variance of its error, more than 0.
    pub variance: f64,
}

/// Figures of one kind that truly differ: their common mean, and how far they truly lie apart. The
/// variance between them is that of R. DerSimonian and N. Laird, Controlled Clinical Trials 7 (1986)
/// 177–188.
///
/// ```
/// use parings_core::stats::{Noisy, Pooled};
/// let stores = [(2.0, 0.1), (2.2, 0.1), (9.0, 40.0), (3.1, 0.1)];
/// let stores = stores.map(|(value, variance)| Noisy { value, variance });
/// let pooled = Pooled::of(&stores).unwrap();
/// // Little is known of the third, so it hardly moves the mean.
/// assert!(pooled.mean().value < 3.0);
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pooled {
    mean: Noisy,
    between: f64,
}

impl Pooled {
    /// Pools at least two figures, finite and with a variance above 0; else [`StatsError::Sample`].
    pub fn of(figures: &[Noisy]) -> Result<Self, StatsError> {
        let sound = |f: &Noisy| f.value.is_finite() && f.variance.is_finite() && f.variance > 0.0;
        if figures.len() < 2 || !figures.iter().all(sound) {
            return Err(StatsError::Sample);
        }
        let fixed = weighted(figures, 0.0);
        let (mut q, mut weights, mut squares) = (0.0, 0.0, 0.0);
        for figure in figures {
            let weight = 1.0 / figure.variance;
            q += weight * (figure.value - fixed.value).powi(2);
            weights += weight;
            squares += weight * weight;
        }
        let degrees = figures.len() as f64 - 1.0;
        let between = ((q - degrees) / (weights - squares / weights)).max(0.0);
        Ok(Self { mean: weighted(figures, between), between })
    }

    /// The common mean and the variance of its error.
    pub fn mean(self) -> Noisy {
        self.mean
    }

    /// The variance between the true figures.
    pub fn between(self) -> f64 {
        self.between
    }
}

fn weighted(figures: &[Noisy], between: f64) -> Noisy {
    let (sum, weights) = figures.iter().fold((0.0, 0.0), |(sum, weights), figure| {
        let weight = 1.0 / (figure.variance + between);
        (sum + weight * figure.value, weights + weight)
    });
    Noisy { value: sum / weights, variance: 1.0 / weights }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Source: the BCG trials of Colditz et al. (1994), R metadat::dat.bcg; DerSimonian and Laird's
    /// figures by metafor 3.8-1, recomputed in numpy; they equal metafor's documentation.
    #[test]
    fn the_bcg_trials() {
        let rows = [
            (-0.8893113339202054, 0.32558476500396133),
            (-1.5853886572014306, 0.19458112139814385),
            (-1.348073148299693, 0.4153679653679654),
            (-1.4415511900213054, 0.020010031902247573),
            (-0.2175473222112957, 0.05121017216963086),
            (-0.786115585818864, 0.0069056184559087574),
            (-1.6208982235983924, 0.22301724757231517),
            (0.011952333523841173, 0.0039615792978177295),
            (-0.4694176487381487, 0.056434210463248966),
            (-1.3713448034727846, 0.07302479361302891),
            (-0.33935882833839015, 0.01241221397155972),
            (0.4459134005713783, 0.5325058452001528),
            (-0.017313948216879493, 0.0714046596839863),
        ];
        let figures = rows.map(|(value, variance)| Noisy { value, variance });
        let pooled = Pooled::of(&figures).unwrap();
        assert!((pooled.between() - 0.3087602628623764).abs() < 1e-9);
        assert!((pooled.mean().value + 0.7141172220732271).abs() < 1e-9);
        assert!((pooled.mean().variance.sqrt() - 0.1787420895354032).abs() < 1e-9);
    }

    #[test]
    fn figures_that_agree_have_nothing_between() {
        let same = [Noisy { value: 1.0, variance: 2.0 }; 3];
        assert_eq!(Pooled::of(&same).map(Pooled::between), Ok(0.0));
        assert_eq!(Pooled::of(&same[..1]), Err(StatsError::Sample));
    }
}
