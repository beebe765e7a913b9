//! The normal distribution, as `statrs` has it.

use statrs::distribution::{ContinuousCDF, Normal};

/// The value a standard normal variable stays below with probability `p`, 0 < p < 1.
pub(super) fn quantile(p: f64) -> f64 {
    Normal::standard().inverse_cdf(p)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Source: the first three are the check values printed with algorithm AS 241 of M. J. Wichura,
    /// Applied Statistics 37 (1988) 477–484 (from memory); all are recomputed with Python 3.11
    /// statistics.NormalDist().inv_cdf.
    #[test]
    fn check_values_of_as241() {
        for (p, z) in [
            (0.25, -0.6744897501960817),
            (0.001, -3.090232306167813),
            (1e-20, -9.262340089798405),
            (0.5, 0.0),
            (0.8, 0.8416212335729144),
            (0.9999, 3.7190164854557084),
            (1e-10, -6.361340902404056),
            (1e-300, -37.0470962993612),
        ] {
            assert!((quantile(p) - z).abs() < 1e-12, "{p}: {} for {z}", quantile(p));
        }
    }

    /// Source: the usual printed table of the normal distribution (from memory).
    #[test]
    fn printed_table() {
        for (p, z) in
            [(0.9, 1.2816), (0.95, 1.6449), (0.975, 1.9600), (0.99, 2.3263), (0.995, 2.5758)]
        {
            assert!((quantile(p) - z).abs() < 5e-5, "{p}");
            assert!((quantile(1.0 - p) + z).abs() < 5e-5, "{p}");
        }
    }
}
