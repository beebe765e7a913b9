//! Student's t. Its probabilities are those of `statrs`; its quantile is found here, because that of
//! `statrs` 0.19 is off by 6e-5 at a million degrees and does not end at a thousand million.

use statrs::distribution::{Continuous, ContinuousCDF, StudentsT};

use super::normal;

/// From so many degrees on it is the normal one to 1e-6.
const MANY: u64 = 10_000_000;

/// The value above 0 that Student's t passes with probability `tail`, 0 < tail < ½, by so many degrees
/// of freedom; without bound with none.
pub(super) fn beyond(tail: f64, degrees: u64) -> f64 {
    let z = -normal::quantile(tail);
    if degrees >= MANY {
        return z;
    }
    let Ok(student) = StudentsT::new(0.0, 1.0, degrees as f64) else { return f64::INFINITY };
    // On logarithmic scales the tail is concave, so that Newton's steps pass the root once at most and
    // then come back to it.
    let mut t = z.max(f64::MIN_POSITIVE);
    for _ in 0..50 {
        let passed = student.sf(t);
        let step = (passed / tail).ln() * passed / (t * student.pdf(t));
        t *= step.exp();
        if step.abs() < 1e-14 {
            break;
        }
    }
    t
}

#[cfg(test)]
mod tests {
    use super::beyond;

    /// Source: the usual printed table of Student's t (from memory); the long ones recomputed with
    /// scipy.stats.t.ppf.
    #[test]
    fn printed_table_of_t() {
        for (tail, degrees, printed, t) in [
            (0.025, 1, 12.706, 12.706204736174694),
            (0.025, 2, 4.303, 4.302652729749462),
            (0.025, 5, 2.571, 2.5705818356363146),
            (0.025, 9, 2.262, 2.262157162798205),
            (0.025, 27, 2.052, 2.0518305164802846),
            (0.00001, 1, 31830.989, 31830.988608051957),
            (0.00001, 27, 5.157, 5.156582425276137),
            (0.025, 1_000_000, 1.960, 1.959966356814107),
        ] {
            let found = beyond(tail, degrees);
            assert!((found - printed).abs() <= 0.0005001, "{degrees}: {found} for {printed}");
            assert!((found / t - 1.0).abs() < 1e-9, "{degrees}: {found} for {t}");
        }
        assert_eq!(beyond(0.025, 0), f64::INFINITY);
        assert!((beyond(0.025, u64::MAX) - 1.959963984540054).abs() < 1e-9);
        assert!((beyond(0.4, 3) - 0.27667066233268955).abs() < 1e-9);
    }
}
