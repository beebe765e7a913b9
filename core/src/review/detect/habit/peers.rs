//! What stores of a format have, where a figure is made of weeks of nights.

use super::{EVERY, Shown, Told, show};
use crate::review::{Habit, Label, Sheet};
use crate::stats::Robust;

/// Fewest others before any store is asked anything.
const FEWEST: usize = 8;

/// A figure of a store over its last nights.
#[derive(Debug, Clone, Copy)]
pub(super) struct RecentFigure {
    pub(super) value: f64,
    pub(super) nights: usize,
}

/// Asks every week, of every store that has a figure over so many last nights, how likely it is beside
/// what others of its format have: nothing, or how much likelier a habit is, as a logarithm.
pub(super) fn against_peers(
    sheet: &Sheet,
    habit: Habit,
    window: usize,
    figure: impl Fn(usize, usize, usize) -> Option<RecentFigure>,
    strength: impl Fn(RecentFigure, Robust) -> Option<f64>,
) -> Vec<Shown> {
    let stores = sheet.stores().len();
    let mut found: Vec<Vec<Shown>> = vec![Vec::new(); stores];
    for night in (EVERY - 1..sheet.nights()).step_by(EVERY) {
        let from = (night + 1).saturating_sub(window);
        let figures: Vec<Option<RecentFigure>> =
            (0..stores).map(|store| figure(store, from, night + 1)).collect();
        let format = |store: usize| sheet.places()[store * sheet.nights() + night].1;
        for (peers, members) in groups(stores, &format, &figures) {
            let values: Vec<f64> =
                peers.iter().filter_map(|s| figures[*s]).map(|f| f.value).collect();
            if values.len() <= FEWEST {
                continue;
            }
            let Ok(usual) = Robust::of(&values) else { continue };
            for store in members {
                let Some(own) = figures[store] else { continue };
                let Some(strength) = strength(own, usual) else { continue };
                let others = values.len() - 1;
                let told =
                    Told { usual: usual.centre(), own: own.value, others, nights: own.nights };
                let (last, since) = (night as u32, from as u32);
                let told = Some(told);
                let shown = Shown { store, habit, found: last, last, since, strength, told };
                show(&mut found[store], shown);
            }
        }
    }
    found.into_iter().flatten().collect()
}

/// Stores of each format that have a figure, and whom they are compared with: every store, where the
/// format has too few.
fn groups(
    stores: usize,
    format: &impl Fn(usize) -> Label,
    figures: &[Option<RecentFigure>],
) -> Vec<(Vec<usize>, Vec<usize>)> {
    let known: Vec<usize> = (0..stores).filter(|store| figures[*store].is_some()).collect();
    let mut formats: Vec<Label> = known.iter().map(|store| format(*store)).collect();
    formats.sort_unstable();
    formats.dedup();
    let members = |of: Label| -> Vec<usize> {
        known.iter().copied().filter(|store| format(*store) == of).collect()
    };
    formats
        .into_iter()
        .map(|of| {
            let members = members(of);
            let peers = if members.len() > FEWEST { members.clone() } else { known.clone() };
            (peers, members)
        })
        .collect()
}
