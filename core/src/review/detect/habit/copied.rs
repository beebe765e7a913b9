//! Waste that is the same number again and again.

use super::{Shown, show, usual};
use crate::review::Habit;

/// How often a copied night repeats the one it is copied from.
const COPIED: f64 = 0.75;
/// How sure it must be, as a logarithm of likelihoods: beyond this it is a finding.
const SURE: f64 = 8.5;
/// How many nights of all stores a store's own nights are weighed against.
const PRIOR: f64 = 30.0;
/// How many of its last nights tell how often two of a store's nights are the same by chance.
const PAIRED: usize = 28;

/// What repeats what.
#[derive(Debug, Clone, Copy)]
enum Repeat {
    /// The number of so many nights before, to the digit.
    Same(usize),
    /// Within 2 % of the night before.
    Near,
}

impl Repeat {
    const ALL: [Self; 3] = [Self::Same(1), Self::Same(7), Self::Near];

    /// Whether a night shows it; nothing when it cannot be told.
    fn shows(self, nights: &[f64], at: usize) -> Option<bool> {
        let back = match self {
            Self::Same(back) => back,
            Self::Near => 1,
        };
        self.alike(nights[at], *nights.get(at.checked_sub(back)?)?)
    }

    fn alike(self, now: f64, then: f64) -> Option<bool> {
        // Nothing repeats nothing without saying much, and is looked for by itself.
        (now > 0.0 && then > 0.0).then(|| match self {
            Self::Same(_) => now == then,
            Self::Near => (now - then).abs() <= 0.02 * then,
        })
    }
}

/// A one-sided cumulative sum of likelihoods of copying over chance, for each sign.
pub(super) fn copied(stores: &[Vec<f64>], nights: usize) -> Vec<Shown> {
    let mut found = Vec::new();
    for sign in Repeat::ALL {
        let usual = usual(stores, nights, |of, at| sign.shows(of, at));
        for (store, of) in stores.iter().enumerate() {
            found.extend(copies(store, of, sign, &usual));
        }
    }
    found
}

fn copies(store: usize, of: &[f64], sign: Repeat, usual: &[f64]) -> Vec<Shown> {
    let mut found: Vec<Shown> = Vec::new();
    let (mut sum, mut start, mut shown, mut last) = (0.0f64, 0, (0.0, 0.0), 0);
    let mut pairs = Pairs::default();
    for (night, usual) in usual.iter().enumerate() {
        let Some(repeats) = sign.shows(of, night) else { continue };
        let usual = usual.max(pairs.alike(*usual));
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
            let (found_on, last, since) = (night as u32, last as u32, start as u32);
            let habit = Habit::Copied;
            let shown =
                Shown { store, habit, found: found_on, last, since, strength: sum, told: None };
            show(&mut found, shown);
        } else {
            // What is worth asking about is not what is usual.
            shown = (shown.0 + f64::from(u8::from(repeats)), shown.1 + 1.0);
            if sum == 0.0 {
                pairs.add(sign, of[night]);
            }
        }
    }
    found
}

/// How often any two of a store's nights are alike: often where little is thrown away and scales are
/// coarse.
#[derive(Default)]
struct Pairs {
    nights: Vec<f64>,
    alike: f64,
    all: f64,
}

impl Pairs {
    fn add(&mut self, sign: Repeat, night: f64) {
        let from = self.nights.len().saturating_sub(PAIRED);
        for then in &self.nights[from..] {
            self.alike += f64::from(u8::from(sign.alike(night, *then) == Some(true)));
            self.all += 1.0;
        }
        self.nights.push(night);
    }

    /// Their share, weighed against what is usual.
    fn alike(&self, usual: f64) -> f64 {
        (self.alike + PRIOR * usual) / (self.all + PRIOR)
    }
}
