//! No recorded waste for longer than chance makes it.

use super::{Shown, show, usual};
use crate::review::Habit;

/// How many nights of all stores a store's own nights are weighed against.
const PRIOR: f64 = 30.0;
/// Fewest nights of nothing. Common practice, no source.
const FEWEST: u32 = 7;
/// So improbable a run of them. Common practice says 0.001 of one store; many are looked at.
const IMPROBABLE: f64 = 1e-5;

/// Runs of nights of nothing.
pub(super) fn nothing(stores: &[Vec<f64>], nights: usize) -> Vec<Shown> {
    let usual = usual(stores, nights, |of, at| (of[at] >= 0.0).then_some(of[at] == 0.0));
    stores.iter().enumerate().flat_map(|(store, of)| runs(store, of, &usual)).collect()
}

fn runs(store: usize, of: &[f64], usual: &[f64]) -> Vec<Shown> {
    let mut found: Vec<Shown> = Vec::new();
    let (mut run, mut start, mut before) = (0, 0, (0.0, 0.0));
    for (night, wasted) in of.iter().enumerate().filter(|(_, w)| !w.is_nan()) {
        if *wasted > 0.0 {
            before = (before.0 + f64::from(run), before.1 + f64::from(run) + 1.0);
            run = 0;
            continue;
        }
        if run == 0 {
            start = night;
        }
        run += 1;
        let chance = (before.0 + PRIOR * usual[night]) / (before.1 + PRIOR);
        let likelihood = f64::from(run) * chance.ln();
        if run >= FEWEST && likelihood < IMPROBABLE.ln() {
            let (last, since) = (night as u32, start as u32);
            let habit = Habit::Nothing;
            let strength = -likelihood;
            show(
                &mut found,
                Shown { store, habit, found: last, last, since, strength, told: None },
            );
        }
    }
    found
}
