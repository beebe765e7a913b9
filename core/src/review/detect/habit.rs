//! How waste is written down: the same number again and again, or nothing at all for longer than
//! chance makes it. Worth asking "please show us how", and no more than that.

use crate::review::{Column, Sheet, Status};

/// How often a copied night repeats the one it is copied from.
const COPIED: f64 = 0.75;
/// How sure it must be, as a logarithm of likelihoods: beyond this it is a finding.
const SURE: f64 = 8.5;
/// How many nights of all stores a store's own nights are weighed against.
const PRIOR: f64 = 30.0;
/// Fewest nights of nothing. Common practice, no source.
const FEWEST_ZEROS: u32 = 7;
/// So improbable a run of them. Common practice says 0.001 of one store; many are looked at.
const IMPROBABLE: f64 = 1e-5;
/// Nights without a sign after which it is over.
const OVER: u32 = 7;

/// A store that writes waste down in a way worth asking about: from when to when it shows, and since
/// when it has.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Habit {
    pub(super) store: usize,
    pub(super) found: u32,
    pub(super) last: u32,
    pub(super) since: u32,
    /// Likelihood of copying over chance, as a logarithm.
    pub(super) strength: f64,
}

/// What repeats what.
#[derive(Debug, Clone, Copy)]
enum Sign {
    /// The number of so many nights before, to the digit.
    Same(usize),
    /// Within 2 % of the night before.
    Near,
}

impl Sign {
    const ALL: [Self; 3] = [Self::Same(1), Self::Same(7), Self::Near];

    /// Whether a night shows it; nothing when it cannot be told.
    fn shows(self, nights: &[f64], at: usize) -> Option<bool> {
        let back = match self {
            Self::Same(back) => back,
            Self::Near => 1,
        };
        let (now, then) = (nights[at], *nights.get(at.checked_sub(back)?)?);
        // Nothing repeats nothing without saying much, and is looked for by itself.
        (now > 0.0 && then > 0.0).then(|| match self {
            Self::Same(_) => now == then,
            Self::Near => (now - then).abs() <= 0.02 * then,
        })
    }
}

/// Everything found in a sheet's recorded waste.
pub(super) fn habits(sheet: &Sheet) -> Vec<Habit> {
    let nights = sheet.nights();
    let wasted = sheet.column(Column::Wasted);
    let stores: Vec<Vec<f64>> = (0..sheet.stores().len())
        .map(|store| {
            let cell = |night: usize| store * nights + night;
            let open = |night: usize| sheet.status()[cell(night)] == Status::Open;
            (0..nights).map(|n| if open(n) { wasted[cell(n)] } else { f64::NAN }).collect()
        })
        .collect();
    let mut found = Vec::new();
    for sign in Sign::ALL {
        let usual = usual(&stores, nights, |of, at| sign.shows(of, at));
        for (store, of) in stores.iter().enumerate() {
            found.extend(copies(store, of, sign, &usual));
        }
    }
    let usual = usual(&stores, nights, |of, at| (of[at] >= 0.0).then_some(of[at] == 0.0));
    for (store, of) in stores.iter().enumerate() {
        found.extend(zeros(store, of, &usual));
    }
    merge(found)
}

/// How often something shows in all stores, up to each night.
fn usual(
    stores: &[Vec<f64>],
    nights: usize,
    shows: impl Fn(&[f64], usize) -> Option<bool>,
) -> Vec<f64> {
    let (mut yes, mut all) = (0.0, 0.0);
    let up_to = |night| {
        for shown in stores.iter().filter_map(|of| shows(of, night)) {
            yes += f64::from(u8::from(shown));
            all += 1.0;
        }
        (yes + 0.5) / (all + 50.0)
    };
    (0..nights).map(up_to).collect()
}

/// A one-sided cumulative sum of likelihoods of copying over chance.
fn copies(store: usize, of: &[f64], sign: Sign, usual: &[f64]) -> Vec<Habit> {
    let mut found: Vec<Habit> = Vec::new();
    let (mut sum, mut start, mut shown, mut last) = (0.0f64, 0, (0.0, 0.0), 0);
    for (night, usual) in usual.iter().enumerate() {
        let Some(repeats) = sign.shows(of, night) else { continue };
        let chance = (shown.0 + PRIOR * usual) / (shown.1 + PRIOR);
        let chance = chance.clamp(0.01, 0.6);
        if sum == 0.0 {
            start = night;
        }
        let step = if repeats {
            last = night;
            (COPIED / chance).ln()
        } else {
            ((1.0 - COPIED) / (1.0 - chance)).ln()
        };
        sum = (sum + step).clamp(0.0, SURE + 6.0);
        if sum > SURE {
            show(&mut found, store, (night, last, start), sum);
        } else {
            // What is worth asking about is not what is usual.
            shown = (shown.0 + f64::from(u8::from(repeats)), shown.1 + 1.0);
        }
    }
    found
}

/// Runs of nights of nothing.
fn zeros(store: usize, of: &[f64], usual: &[f64]) -> Vec<Habit> {
    let mut found: Vec<Habit> = Vec::new();
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
        if run >= FEWEST_ZEROS && likelihood < IMPROBABLE.ln() {
            show(&mut found, store, (night, night, start), -likelihood);
        }
    }
    found
}

/// Shows a habit on a night: goes on with the one shown lately, or begins anew.
fn show(
    found: &mut Vec<Habit>,
    store: usize,
    (night, last, start): (usize, usize, usize),
    strength: f64,
) {
    let (night, last) = (night as u32, last as u32 + OVER);
    match found.last_mut() {
        Some(habit) if habit.last + 1 >= night => {
            habit.last = last;
            habit.strength = habit.strength.max(strength);
        }
        _ => found.push(Habit { store, found: night, last, since: start as u32, strength }),
    }
}

/// Joins what several signs say of a store.
fn merge(mut found: Vec<Habit>) -> Vec<Habit> {
    found.sort_by_key(|habit| (habit.store, habit.found));
    let mut merged: Vec<Habit> = Vec::new();
    for habit in found {
        match merged.last_mut() {
            Some(last) if last.store == habit.store && habit.found <= last.last + 1 => {
                last.last = last.last.max(habit.last);
                last.since = last.since.min(habit.since);
                last.strength = last.strength.max(habit.strength);
            }
            _ => merged.push(habit),
        }
    }
    merged
}
