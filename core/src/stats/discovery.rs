//! Many tests at one look.

/// Adjusted p-values of Y. Benjamini and Y. Hochberg, J. R. Stat. Soc. B 57 (1995) 289–300, in the
/// order given: reject where the adjusted value is at most q, and of what is rejected a share of q at
/// most is expected to be wrong. It covers one look; a chart that is read every night is tuned by
/// replay.
///
/// ```
/// use parings_core::stats::benjamini_hochberg;
/// let adjusted = benjamini_hochberg(&[0.01, 0.02, 0.03, 0.50]);
/// assert_eq!(adjusted, [0.04, 0.04, 0.04, 0.50]);
/// ```
pub fn benjamini_hochberg(p: &[f64]) -> Vec<f64> {
    let mut order: Vec<usize> = (0..p.len()).collect();
    order.sort_by(|a, b| p[*b].total_cmp(&p[*a]));
    let mut adjusted = vec![1.0; p.len()];
    let (many, mut least) = (p.len() as f64, 1.0f64);
    for (smaller, at) in order.iter().enumerate() {
        let rank = many - smaller as f64;
        least = least.min(p[*at] * many / rank);
        adjusted[*at] = least;
    }
    adjusted
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Source: the worked example of Benjamini and Hochberg (1995), 15 p-values of Neuhaus et al.
    /// (1992): 4 are rejected at 0.05 (read in nine repositories); adjusted values recomputed with
    /// statsmodels multipletests and R p.adjust.
    #[test]
    fn the_worked_example_of_1995() {
        let p = [
            0.0001, 0.0004, 0.0019, 0.0095, 0.0201, 0.0278, 0.0298, 0.0344, 0.0459, 0.324, 0.4262,
            0.5719, 0.6528, 0.759, 1.0,
        ];
        let expected = [
            0.0015,
            0.003,
            0.0095,
            0.035625,
            0.0603,
            0.06385714285714286,
            0.06385714285714286,
            0.0645,
            0.07650000000000001,
            0.48600000000000004,
            0.5811818181818182,
            0.7148749999999999,
            0.7532307692307693,
            0.8132142857142857,
            1.0,
        ];
        let adjusted = benjamini_hochberg(&p);
        assert_eq!(adjusted.iter().filter(|q| **q <= 0.05).count(), 4);
        for (found, wanted) in adjusted.iter().zip(expected) {
            assert!((found - wanted).abs() < 1e-12, "{found} for {wanted}");
        }
        // In another order, the same.
        let backwards: Vec<f64> = p.iter().rev().copied().collect();
        let again: Vec<f64> = benjamini_hochberg(&backwards).into_iter().rev().collect();
        assert_eq!(again, adjusted);
        assert!(benjamini_hochberg(&[]).is_empty());
    }
}
