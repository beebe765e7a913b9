//! Waste that ends on whole or half units far more often than that of others on the same sheet.

use super::peers::{RecentFigure, against_peers};
use super::{Shown, likelier};
use crate::review::{Habit, Sheet};

/// So many last nights are looked at, of which the fewest must have waste. Common practice, no source.
const WINDOW: usize = 56;
const FEWEST: usize = 40;
/// The least share that is worth asking about. Common practice, no source.
const LEAST: f64 = 0.7;
/// How much likelier it must be than what others have, as a logarithm.
const SURE: f64 = 15.0;

pub(super) fn rounded(sheet: &Sheet, wasted: &[Vec<f64>]) -> Vec<Shown> {
    let share = |store: usize, from: usize, to: usize| {
        let nights = wasted[store][from..to].iter().filter(|w| **w > 0.0);
        let (mut all, mut round) = (0, 0);
        for amount in nights {
            all += 1;
            round += usize::from((2.0 * amount - (2.0 * amount).round()).abs() < 1e-6);
        }
        (all >= FEWEST).then(|| RecentFigure { value: round as f64 / all as f64, nights: all })
    };
    against_peers(sheet, Habit::Rounded, WINDOW, share, |own, usual| {
        // A scale that weighs in halves rounds for everybody.
        let others = usual.centre().max(0.05);
        if own.value < LEAST || others >= LEAST {
            return None;
        }
        let strength = likelier(own.value, others, own.nights as f64);
        (strength > SURE).then_some(strength)
    })
}
