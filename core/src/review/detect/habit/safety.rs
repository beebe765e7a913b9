//! An unusual share of what is thrown away that is thrown away for safety. A private note: it is no waste,
//! is in no rank, and nobody is asked to throw away less.

use super::peers::{RecentFigure, against_peers};
use super::{Shown, by_store};
use crate::review::{Column, Habit, Sheet};

/// So many last nights are looked at, of which the fewest must be open.
const WINDOW: usize = 28;
const FEWEST: usize = 20;
/// On so many nights at least: a fryer or a cold room that fails once is no habit.
const NIGHTS: usize = 5;
/// Beyond so many spreads of what others have, which differ by this much at least.
const SPREADS: f64 = 5.0;
const LEAST_SPREAD: f64 = 0.04;

pub(super) fn safety(sheet: &Sheet, wasted: &[Vec<f64>]) -> Vec<Shown> {
    if !sheet.has(Column::Safety) {
        return Vec::new();
    }
    let discarded = by_store(sheet, Column::Safety);
    let share = |store: usize, from: usize, to: usize| {
        let (safe, other) = (&discarded[store], &wasted[store]);
        let nights: Vec<usize> =
            (from..to).filter(|night| other[*night] >= 0.0 && safe[*night] >= 0.0).collect();
        let sum = |figures: &[f64]| nights.iter().map(|night| figures[*night]).sum::<f64>();
        let (thrown, all) = (sum(safe), sum(safe) + sum(other));
        if nights.len() < FEWEST || all <= 0.0 {
            return None;
        }
        // Few nights of it are as good as none.
        let often = nights.iter().filter(|night| safe[**night] > 0.0).count() >= NIGHTS;
        Some(RecentFigure { value: if often { thrown / all } else { 0.0 }, nights: nights.len() })
    };
    against_peers(sheet, Habit::Safety, WINDOW, share, |own, usual| {
        let off = (own.value - usual.centre()) / usual.spread().value().max(LEAST_SPREAD);
        (off > SPREADS).then_some(off)
    })
}
