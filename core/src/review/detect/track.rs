//! One store and measure as a row of nights, with sums that make the mean of any run of them cheap.

use super::fair::{CLIP, Fair};
use super::series::Series;

/// The runs of last nights that are looked at.
pub(super) const WINDOWS: [usize; 16] = [2, 3, 4, 5, 6, 7, 8, 10, 12, 14, 17, 20, 24, 28, 34, 40];
/// Fewest nights before a run.
const FEWEST_BEFORE: u32 = 14;
/// The least they must weigh together.
const LEAST_BEFORE: f64 = 7.0;
/// A store's past is this many nights.
const MOST_BEFORE: usize = 112;

/// The nights of a store that have a value.
#[derive(Debug, Clone, Default)]
pub(super) struct Track {
    pub(super) store: usize,
    /// The nights of the sheet on which the store has a figure, in order.
    pub(super) nights: Vec<u32>,
    /// The spread of a night that says as much as usual.
    pub(super) spread: Vec<f64>,
    /// How many nights lie before each, those of values over several nights counted as what they are.
    covered: Vec<u32>,
    weights: Vec<f64>,
    sums: Vec<f64>,
    shares: Vec<f64>,
    values: Vec<f64>,
}

/// A run of nights against the nights before it, kept without roots and divisions: there are many.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct RunChange {
    /// The change of the mean, times a number above nothing.
    pub(super) change: f64,
    /// Its variance as if nights were independent, times that number squared.
    pub(super) variance: f64,
}

/// The mean of a run of nights, and the weight of it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Mean {
    pub(super) value: f64,
    pub(super) weight: f64,
    pub(super) nights: usize,
}

impl Track {
    /// The track of a store through a series.
    pub(super) fn of(series: &Series, fair: &Fair, store: usize) -> Self {
        let mut track = Self { store, covered: vec![0], ..Self::default() };
        for (night, at) in (store..fair.level.len()).step_by(fair.stores).enumerate() {
            if !fair.level[at].is_finite() {
                continue;
            }
            let (residual, spread) = (fair.residual[at], fair.spread[at]);
            // A value over n nights is their mean, and each of them may lie so far off.
            let reach = CLIP * spread * f64::from(series.covers[at]).sqrt();
            track.nights.push(night as u32);
            track.covered.push(track.covered[track.covered.len() - 1] + series.covers[at]);
            track.spread.push(spread * fair.weight[at].sqrt());
            track.shares.push(fair.weight[at]);
            track.values.push(fair.level[at] - residual + residual.clamp(-reach, reach));
        }
        track.sum(0);
        track
    }

    fn sum(&mut self, from: usize) {
        self.weights.truncate(from + 1);
        self.sums.truncate(from + 1);
        if from == 0 {
            self.weights = vec![0.0];
            self.sums = vec![0.0];
        }
        for at in from..self.values.len() {
            self.weights.push(self.weights[at] + self.shares[at]);
            self.sums.push(self.sums[at] + self.shares[at] * self.values[at]);
        }
    }

    /// Leaves nights out of every mean from now on: what was found amiss is no past.
    pub(super) fn forget(&mut self, from: usize, to: usize) {
        self.shares[from..to].fill(0.0);
        self.sum(from);
    }

    pub(super) fn len(&self) -> usize {
        self.nights.len()
    }

    /// How many nights the values from one up to another, which is left out, are of.
    pub(super) fn covered(&self, from: usize, to: usize) -> u32 {
        self.covered[to] - self.covered[from]
    }

    /// The mean of the nights from one up to another, which is left out.
    pub(super) fn mean(&self, from: usize, to: usize) -> Option<Mean> {
        let weight = self.weights[to] - self.weights[from];
        let value = (self.sums[to] - self.sums[from]) / weight;
        (weight > 0.0).then_some(Mean { value, weight, nights: to - from })
    }

    /// The past of a run that starts here.
    pub(super) fn before(&self, start: usize) -> Option<Mean> {
        if self.covered(0, start) < FEWEST_BEFORE {
            return None;
        }
        let mean = self.mean(start.saturating_sub(MOST_BEFORE), start)?;
        (mean.weight >= LEAST_BEFORE).then_some(mean)
    }

    /// The last nights up to `at` against the ones before; nothing when there are too few, or gaps
    /// make a run of them more than a run.
    pub(super) fn step(&self, at: usize, window: usize) -> Option<RunChange> {
        let start = (at + 1).checked_sub(window)?;
        if self.covered(0, start) < FEWEST_BEFORE
            || self.nights[at] - self.nights[start] > 2 * self.covered(start, at + 1)
        {
            return None;
        }
        let first = start.saturating_sub(MOST_BEFORE);
        let before = self.weights[start] - self.weights[first];
        let after = self.weights[at + 1] - self.weights[start];
        if before < LEAST_BEFORE || after <= 0.0 {
            return None;
        }
        let (sum_before, sum_after) =
            (self.sums[start] - self.sums[first], self.sums[at + 1] - self.sums[start]);
        let spread = self.spread[at];
        Some(RunChange {
            change: sum_after * before - sum_before * after,
            variance: spread * spread * before * after * (before + after),
        })
    }
}
