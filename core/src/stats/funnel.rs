use super::{Noisy, StatsError};

/// A funnel: how far units may lie from a target by how little is known of each, widened by how much
/// more they differ than chance makes them. D. J. Spiegelhalter, Statistics in Medicine 24 (2005)
/// 1185–1202, and Qual. Saf. Health Care 14 (2005) 347–351, the additive form.
///
/// ```
/// use parings_core::stats::{Funnel, Noisy};
/// let stores = [1.9, 2.0, 2.1, 2.2, 1.8].map(|value| Noisy { value, variance: 0.04 });
/// let funnel = Funnel::of(&stores, 2.0).unwrap();
/// assert!(funnel.z(Noisy { value: 3.0, variance: 0.04 }) > 3.0);
/// assert!(funnel.z(Noisy { value: 3.0, variance: 4.0 }) < 1.0);
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Funnel {
    target: f64,
    overdispersion: f64,
    between: f64,
}

impl Funnel {
    /// The share of units cut down at either end before it is told how they differ.
    pub const WINSORISED: f64 = 0.10;

    /// A funnel of at least two units, finite and with variances above 0, and a finite target; else
    /// [`StatsError::Sample`].
    pub fn of(units: &[Noisy], target: f64) -> Result<Self, StatsError> {
        let sound = |u: &Noisy| u.value.is_finite() && u.variance.is_finite() && u.variance > 0.0;
        if units.len() < 2 || !units.iter().all(sound) || !target.is_finite() {
            return Err(StatsError::Sample);
        }
        let z: Vec<f64> = units.iter().map(|u| (u.value - target) / u.variance.sqrt()).collect();
        let overdispersion = winsorised_square(&z, Self::WINSORISED);
        let (mut weights, mut squares) = (0.0, 0.0);
        for unit in units {
            weights += 1.0 / unit.variance;
            squares += 1.0 / (unit.variance * unit.variance);
        }
        let many = units.len() as f64;
        let beyond = many * overdispersion - (many - 1.0);
        let between = (beyond / (weights - squares / weights)).max(0.0);
        Ok(Self { target, overdispersion, between })
    }

    /// How many times the variance of chance units differ by, the outermost cut down.
    pub fn overdispersion(self) -> f64 {
        self.overdispersion
    }

    /// The variance between units beyond chance.
    pub fn between(self) -> f64 {
        self.between
    }

    /// How many standard deviations a unit lies off, chance and the differences between units both
    /// allowed for.
    pub fn z(self, unit: Noisy) -> f64 {
        (unit.value - self.target) / (unit.variance + self.between).sqrt()
    }
}

/// The mean square of values cut down to their quantiles at either end.
fn winsorised_square(values: &[f64], share: f64) -> f64 {
    let mut sorted = values.to_vec();
    sorted.sort_unstable_by(f64::total_cmp);
    let (low, high) = (linear(&sorted, share), linear(&sorted, 1.0 - share));
    values.iter().map(|x| x.clamp(low, high).powi(2)).sum::<f64>() / values.len() as f64
}

/// Definition 7 of R. J. Hyndman and Y. Fan, The American Statistician 50 (1996) 361–365.
fn linear(sorted: &[f64], p: f64) -> f64 {
    let at = p * (sorted.len() - 1) as f64;
    let (below, above) = (at.floor() as usize, at.ceil() as usize);
    sorted[below] + (at - at.floor()) * (sorted[above] - sorted[below])
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Source: counts and expectations of FunnelPlotR 0.6.0, tests/testthat/test-classes_methods.R
    /// (read in its repository); the winsorised figures on the square root scale recomputed in numpy.
    #[test]
    fn overdispersion_of_six_units() {
        let observed = [100.0, 150.0, 180.0, 80.0, 120.0, 225.0f64];
        let expected = [108.0, 112.0, 165.0, 95.0, 100.0, 220.0f64];
        let units: Vec<Noisy> = observed
            .iter()
            .zip(expected)
            .map(|(o, e)| Noisy { value: (o / e).sqrt(), variance: 1.0 / (4.0 * e) })
            .collect();
        let funnel = Funnel::of(&units, 1.0).unwrap();
        assert!((funnel.overdispersion() - 2.327178257594118).abs() < 1e-9, "{funnel:?}");
        assert!((funnel.between() - 0.0034397801541862704).abs() < 1e-9, "{funnel:?}");
    }

    #[test]
    fn units_that_differ_by_chance_alone_have_nothing_between() {
        let units = [0.9, 1.0, 1.1].map(|value| Noisy { value, variance: 1.0 });
        assert_eq!(Funnel::of(&units, 1.0).map(Funnel::between), Ok(0.0));
        assert_eq!(Funnel::of(&units[..1], 1.0), Err(StatsError::Sample));
    }
}
