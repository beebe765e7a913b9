use super::StatsError;

/// A figure that is known only so well: its value and the variance of its error.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Noisy {
    /// The value.
    pub value: f64,
    /// The variance of its error, more than 0.
    pub variance: f64,
}

/// Figures of one kind that truly differ: their common mean, how far they truly lie apart, and each
/// drawn towards the mean by how little is known of it.
///
/// The variance between is that of R. DerSimonian and N. Laird, Controlled Clinical Trials 7 (1986)
/// 177–188; each figure is then its best linear predictor.
///
/// ```
/// use parings_core::stats::{Noisy, Pooled};
/// let stores = [(2.0, 0.1), (2.2, 0.1), (9.0, 40.0), (3.1, 0.1)];
/// let stores = stores.map(|(value, variance)| Noisy { value, variance });
/// let pooled = Pooled::of(&stores).unwrap();
/// // Little is known of the third: it says little.
/// assert!(pooled.drawn(stores[2]).value < 3.0);
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pooled {
    mean: Noisy,
    between: f64,
}

impl Pooled {
    /// Takes at least two figures, finite and with a variance above 0; else [`StatsError::Sample`].
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

    /// A figure drawn towards the mean, with what is then unknown of it where mean and variance
    /// between are taken as known.
    pub fn drawn(self, figure: Noisy) -> Noisy {
        let own = self.between / (self.between + figure.variance);
        Noisy {
            value: own * figure.value + (1.0 - own) * self.mean.value,
            variance: own * figure.variance,
        }
    }
}

fn weighted(figures: &[Noisy], between: f64) -> Noisy {
    let (sum, weights) = figures.iter().fold((0.0, 0.0), |(sum, weights), figure| {
        let weight = 1.0 / (figure.variance + between);
        (sum + weight * figure.value, weights + weight)
    });
    Noisy { value: sum / weights, variance: 1.0 / weights }
}

/// Figures of one known variance drawn towards their mean: the estimator of B. Efron and C. Morris,
/// J. Am. Stat. Assoc. 70 (1975) 311–319, with the factor 1 − (k − 3)·variance ÷ S, not below 0.
///
/// ```
/// use parings_core::stats::efron_morris;
/// let drawn = efron_morris(&[0.40, 0.30, 0.25, 0.20, 0.10], 0.004).unwrap();
/// assert!(drawn[0] < 0.40 && drawn[4] > 0.10);
/// ```
///
/// # Errors
/// [`StatsError::Sample`] with fewer than four figures, or any that is not finite.
pub fn efron_morris(figures: &[f64], variance: f64) -> Result<Vec<f64>, StatsError> {
    let sound = figures.iter().all(|x| x.is_finite()) && variance.is_finite() && variance >= 0.0;
    if figures.len() < 4 || !sound {
        return Err(StatsError::Sample);
    }
    let k = figures.len() as f64;
    let mean = figures.iter().sum::<f64>() / k;
    let squares: f64 = figures.iter().map(|x| (x - mean).powi(2)).sum();
    let own = if squares > 0.0 { (1.0 - (k - 3.0) * variance / squares).max(0.0) } else { 0.0 };
    Ok(figures.iter().map(|x| mean + own * (x - mean)).collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Source: the BCG trials of Colditz et al. (1994), R metadat::dat.bcg; DerSimonian and Laird's
    /// figures by metafor 3.8-1, recomputed in numpy; they equal metafor's documentation.
    #[test]
    fn the_bcg_trials() {
        let rows = [
            (-0.8893113339202054, 0.32558476500396133, -0.7993909731858653),
            (-1.5853886572014306, 0.19458112139814385, -1.248573568693491),
            (-1.348073148299693, 0.4153679653679654, -0.9844290132641387),
            (-1.4415511900213054, 0.020010031902247573, -1.3972771873598404),
            (-0.2175473222112957, 0.05121017216963086, -0.28819042950960694),
            (-0.786115585818864, 0.0069056184559087574, -0.7845405241511262),
            (-1.6208982235983924, 0.22301724757231517, -1.2406117332093904),
            (0.011952333523841173, 0.0039615792978177295, 0.002754440276731107),
            (-0.4694176487381487, 0.056434210463248966, -0.5072315485381762),
            (-1.3713448034727846, 0.07302479361302891, -1.2456355655796965),
            (-0.33935882833839015, 0.01241221397155972, -0.35384195409228203),
            (0.4459134005713783, 0.5325058452001528, -0.2883644709003098),
            (-0.017313948216879493, 0.0714046596839863, -0.14819135874475942),
        ];
        let figures = rows.map(|(value, variance, _)| Noisy { value, variance });
        let pooled = Pooled::of(&figures).unwrap();
        assert!((pooled.between() - 0.3087602628623764).abs() < 1e-9);
        assert!((pooled.mean().value + 0.7141172220732271).abs() < 1e-9);
        assert!((pooled.mean().variance.sqrt() - 0.1787420895354032).abs() < 1e-9);
        for (value, variance, drawn) in rows {
            assert!((pooled.drawn(Noisy { value, variance }).value - drawn).abs() < 1e-9);
        }
    }

    /// Source: Efron and Morris (1975), table 1, batting averages of 18 players: data read in R
    /// pscl::EfronMorris, printed estimates to 3 decimals from memory and recomputed.
    #[test]
    fn batting_averages() {
        let hits = [18, 17, 16, 15, 14, 14, 13, 12, 11, 11, 10, 10, 10, 10, 10, 9, 8, 7];
        let y = [
            0.4, 0.378, 0.356, 0.333, 0.311, 0.311, 0.289, 0.267, 0.244, 0.244, 0.222, 0.222,
            0.222, 0.222, 0.222, 0.2, 0.178, 0.156,
        ];
        let printed = [
            0.294, 0.289, 0.285, 0.28, 0.275, 0.275, 0.27, 0.266, 0.261, 0.261, 0.256, 0.256,
            0.256, 0.256, 0.256, 0.252, 0.247, 0.242,
        ];
        assert!(hits.iter().zip(y).all(|(h, y)| (f64::from(*h) / 45.0 - y).abs() < 0.00051));
        let mean = y.iter().sum::<f64>() / 18.0;
        let drawn = efron_morris(&y, mean * (1.0 - mean) / 45.0).unwrap();
        for (found, wanted) in drawn.iter().zip(printed) {
            assert!((found - wanted).abs() < 0.00051, "{found} for {wanted}");
        }
    }

    #[test]
    fn figures_that_agree_have_nothing_between() {
        let same = [Noisy { value: 1.0, variance: 2.0 }; 3];
        assert_eq!(Pooled::of(&same).map(Pooled::between), Ok(0.0));
        assert_eq!(Pooled::of(&same[..1]), Err(StatsError::Sample));
        assert_eq!(efron_morris(&[1.0, 2.0, 3.0], 1.0), Err(StatsError::Sample));
    }
}
