//! How many values a chart takes until it signals, on average: the chart as a Markov chain, by D.
//! Brook and D. A. Evans, Biometrika 59 (1972) 539–549.

use super::{StatsError, StdDev, normal};

/// Into how many states the values of a chart between its limits are cut: an odd number.
pub(super) const STATES: usize = 201;

/// Values that a chart is to take: normal and independent of each other.
#[derive(Debug, Clone, Copy)]
pub(super) struct Values {
    mean: f64,
    sd: f64,
}

impl Values {
    /// [`StatsError::Sample`] for a mean that is not finite, [`StatsError::StdDev`] for values that do
    /// not differ.
    pub(super) fn new(mean: f64, sd: StdDev) -> Result<Self, StatsError> {
        if !mean.is_finite() {
            return Err(StatsError::Sample);
        }
        if sd == StdDev::ZERO {
            return Err(StatsError::StdDev);
        }
        Ok(Self { mean, sd: sd.value() })
    }

    /// The probability that one stays below a value.
    pub(super) fn below(self, value: f64) -> f64 {
        normal::below((value - self.mean) / self.sd)
    }

    /// The same values seen from the other side.
    pub(super) fn mirrored(self) -> Self {
        Self { mean: -self.mean, ..self }
    }
}

/// The average number of steps from a state until none is reached any more. `moves` has the
/// probabilities of going from each state, a row each, to every one.
pub(super) fn average(mut moves: Vec<Vec<f64>>, from: usize) -> f64 {
    let many = moves.len();
    // Lengths L solve (I − Q) L = 1: elimination without pivots, for the diagonal outweighs each row.
    let mut lengths = vec![1.0; many];
    for (at, row) in moves.iter_mut().enumerate() {
        row.iter_mut().for_each(|p| *p = -*p);
        row[at] += 1.0;
    }
    for at in 0..many {
        let (done, rest) = moves.split_at_mut(at + 1);
        let pivot = &done[at];
        for (below, row) in rest.iter_mut().enumerate() {
            let factor = row[at] / pivot[at];
            for (to, p) in row.iter_mut().zip(pivot).skip(at) {
                *to -= factor * p;
            }
            lengths[at + 1 + below] -= factor * lengths[at];
        }
    }
    for at in (0..many).rev() {
        let known: f64 = (at + 1..many).map(|to| moves[at][to] * lengths[to]).sum();
        lengths[at] = (lengths[at] - known) / moves[at][at];
    }
    lengths[from]
}

#[cfg(test)]
mod tests {
    use super::average;

    /// Until the first six of a die, and until two in a row: 6 and 42 throws (recomputed by hand).
    #[test]
    fn throws_until_a_six_and_until_two() {
        assert!((average(vec![vec![5.0 / 6.0]], 0) - 6.0).abs() < 1e-12);
        let two = vec![vec![5.0 / 6.0, 1.0 / 6.0], vec![5.0 / 6.0, 0.0]];
        assert!((average(two, 0) - 42.0).abs() < 1e-9);
    }
}
