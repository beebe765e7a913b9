use super::{Confidence, Sample, StatsError, StdDev, student};

/// Which of a sample's values lie out, where there may be several: the generalised extreme studentized
/// deviate test of B. Rosner, Technometrics 25 (1983) 165–172, as in the NIST/SEMATECH e-Handbook
/// 1.3.5.17.3. Gives their places in the sample, the furthest first; none when nothing does.
///
/// It asks for as many as `most` and tells how many there are, so that a second wild value does not
/// hide the first. The chance that it finds any among normal values is one less the confidence; for
/// 15 values or more that is near. With `most` 1 it is the two-sided test of F. E. Grubbs.
///
/// ```
/// use parings_core::stats::{Confidence, generalised_esd};
/// // Sixteen nights of unexplained use, in kilograms: two carry what happened.
/// let nights = [3.1, 2.4, 2.9, 3.6, 2.2, 19.5, 3.3, 2.7, 3.0, 2.6, 3.4, 14.8, 2.8, 3.2, 2.5, 3.1];
/// assert_eq!(generalised_esd(&nights, 4, Confidence::NINETY_FIVE).unwrap(), [5, 11]);
/// ```
///
/// # Errors
/// [`StatsError::Sample`] with fewer than `most` + 2 values, or any that is not finite.
pub fn generalised_esd(
    values: &[f64],
    most: usize,
    confidence: Confidence,
) -> Result<Vec<usize>, StatsError> {
    let removed = steps(values, most, confidence)?;
    // A step within its limit is passed over where a later one is not: that is masking.
    let many = removed.iter().rposition(|step| step.deviate > step.limit).map_or(0, |at| at + 1);
    Ok(removed[..many].iter().map(|step| step.at).collect())
}

/// A value taken away for lying furthest from those that were left.
struct Step {
    at: usize,
    deviate: f64,
    limit: f64,
}

fn steps(values: &[f64], most: usize, confidence: Confidence) -> Result<Vec<Step>, StatsError> {
    if values.len() < most.saturating_add(2) {
        return Err(StatsError::Sample);
    }
    let mut left: Vec<(usize, f64)> = values.iter().copied().enumerate().collect();
    let mut removed = Vec::new();
    for _ in 0..most {
        let sample = Sample::of(&left.iter().map(|(_, value)| *value).collect::<Vec<_>>())?;
        let off = |(_, value): &(usize, f64)| (value - sample.mean()).abs();
        let furthest = (0..left.len()).max_by(|a, b| off(&left[*a]).total_cmp(&off(&left[*b])));
        let (Some(place), Some(sd)) = (furthest, sample.sd().filter(|sd| *sd > StdDev::ZERO))
        else {
            break;
        };
        let many = left.len() as u64;
        let n = many as f64;
        let t = student::beyond((1.0 - confidence.level()) / (2.0 * n), many - 2);
        let limit = (n - 1.0) * t / ((n - 2.0 + t * t) * n).sqrt();
        let deviate = off(&left[place]) / sd.value();
        removed.push(Step { at: left.remove(place).0, deviate, limit });
    }
    Ok(removed)
}

#[cfg(test)]
mod tests {
    use super::*;

    const ROSNER: [f64; 54] = [
        -0.25, 0.68, 0.94, 1.15, 1.2, 1.26, 1.26, 1.34, 1.38, 1.43, 1.49, 1.49, 1.55, 1.56, 1.58,
        1.65, 1.69, 1.7, 1.76, 1.77, 1.81, 1.91, 1.94, 1.96, 1.99, 2.06, 2.09, 2.1, 2.14, 2.15,
        2.23, 2.24, 2.26, 2.35, 2.37, 2.4, 2.47, 2.54, 2.62, 2.64, 2.9, 2.92, 2.92, 2.93, 3.21,
        3.26, 3.3, 3.59, 3.68, 4.3, 4.64, 5.34, 5.42, 6.01,
    ];

    /// Source: NIST/SEMATECH e-Handbook 1.3.5.17.3 with Rosner's data (read in the NIST Dataplot
    /// repository, ROSNER.DAT); its table from memory, recomputed with scipy. The first two steps do
    /// not pass their limits, the third does: three values lie out.
    #[test]
    fn nist_1_3_5_17_3() {
        let table = [
            (6.01, 3.1189, 3.1588),
            (5.42, 2.943, 3.1514),
            (5.34, 3.1794, 3.1439),
            (4.64, 2.8102, 3.1362),
            (-0.25, 2.8156, 3.1282),
            (4.3, 2.8482, 3.1201),
            (3.68, 2.2793, 3.1118),
            (3.59, 2.3104, 3.1032),
            (0.68, 2.1016, 3.0945),
            (3.3, 2.0672, 3.0854),
        ];
        let steps = steps(&ROSNER, 10, Confidence::NINETY_FIVE).unwrap();
        assert_eq!(steps.len(), table.len());
        for (step, (value, deviate, limit)) in steps.iter().zip(table) {
            assert_eq!(ROSNER[step.at], value);
            assert!((step.deviate - deviate).abs() < 5.1e-5, "{value}: {}", step.deviate);
            assert!((step.limit - limit).abs() < 5.1e-5, "{value}: {}", step.limit);
        }
        let out = generalised_esd(&ROSNER, 10, Confidence::NINETY_FIVE).unwrap();
        assert_eq!(out, [53, 52, 51]);
    }

    /// Source: NIST/SEMATECH e-Handbook 1.3.5.17.1, uranium data of Grubbs, Tietjen and Moore (1972),
    /// read in a copy: G = 2.4687 (cut off, not rounded) against 2.032, one-sided at 5 %, which is
    /// two-sided at 10 %; recomputed with scipy.
    #[test]
    fn with_one_it_is_the_test_of_grubbs() {
        let values = [199.31, 199.53, 200.19, 200.82, 201.92, 201.95, 202.18, 245.57];
        let ninety = Confidence::new(0.90).unwrap();
        let steps = steps(&values, 1, ninety).unwrap();
        assert!((steps[0].deviate - 2.46876461121245).abs() < 1e-9);
        assert!((steps[0].limit - 2.031652001549949).abs() < 1e-9);
        assert_eq!(generalised_esd(&values, 1, ninety), Ok(vec![7]));
    }

    #[test]
    fn where_nothing_differs_nothing_lies_out() {
        assert_eq!(generalised_esd(&[2.0; 9], 3, Confidence::NINETY_FIVE), Ok(vec![]));
        assert_eq!(generalised_esd(&ROSNER, 0, Confidence::NINETY_FIVE), Ok(vec![]));
        let few = generalised_esd(&[1.0, 2.0, 9.0], 2, Confidence::NINETY_FIVE);
        assert_eq!(few, Err(StatsError::Sample));
        let blank = generalised_esd(&[1.0, f64::NAN, 9.0], 1, Confidence::NINETY_FIVE);
        assert_eq!(blank, Err(StatsError::Sample));
    }
}
