//! Lines of counts that repeat the count before to the digit, though something was sold in between: of
//! amounts that are weighed few do by chance.

use super::{Shown, Told, show};
use crate::review::{Column, Habit, Sheet, Status};

/// How many lines of all stores a store's own lines are weighed against.
const PRIOR: f64 = 200.0;
/// From so large a share on it is worth asking; where more is usual, three times that. Invented, to be
/// measured by who has stores.
const ASKED: f64 = 0.15;
/// One night says no more than this, as a logarithm of likelihoods: it is a habit over several.
const A_NIGHT: f64 = 3.0;
/// How sure it must be, as for waste that is copied.
const SURE: f64 = 8.5;

/// Lines that repeat, and lines, of a night.
type SameLines = Option<(f64, f64)>;

pub(super) fn lines(sheet: &Sheet) -> Vec<Shown> {
    let nights = sheet.nights();
    let (same, all) = (sheet.column(Column::SameLines), sheet.column(Column::Lines));
    let night = |cell: usize| -> SameLines {
        let open = sheet.status()[cell] == Status::Open;
        (open && all[cell] >= 1.0 && same[cell] <= all[cell]).then(|| (same[cell], all[cell]))
    };
    let stores: Vec<Vec<SameLines>> = (0..sheet.stores().len())
        .map(|store| (store * nights..(store + 1) * nights).map(night).collect())
        .collect();
    let usual = usual(&stores, nights);
    let others = stores.len().saturating_sub(1);
    let of_store = |(store, of): (usize, &Vec<SameLines>)| of_store(store, of, &usual, others);
    stores.iter().enumerate().flat_map(of_store).collect()
}

/// The share of lines that repeat in all stores, up to each night.
fn usual(stores: &[Vec<SameLines>], nights: usize) -> Vec<f64> {
    let (mut same, mut all) = (0.5, 50.0);
    let up_to = |at: usize| {
        for (of, lines) in stores.iter().filter_map(|store| store[at]) {
            (same, all) = (same + of, all + lines);
        }
        same / all
    };
    (0..nights).map(up_to).collect()
}

/// A one-sided cumulative sum of likelihoods, night by night.
fn of_store(store: usize, of: &[SameLines], usual: &[f64], others: usize) -> Vec<Shown> {
    let mut found: Vec<Shown> = Vec::new();
    let (mut sum, mut since, mut own) = (0.0f64, 0, (0.0, 0.0));
    let (mut shown, mut nights) = ((0.0, 0.0), 0);
    for (at, (night, usual)) in of.iter().zip(usual).enumerate() {
        let Some((same, lines)) = *night else { continue };
        let chance = ((own.0 + PRIOR * usual) / (own.1 + PRIOR)).clamp(0.002, 0.3);
        let asked = ASKED.max(3.0 * chance);
        let likely =
            same * (asked / chance).ln() + (lines - same) * ((1.0 - asked) / (1.0 - chance)).ln();
        if sum <= 0.0 {
            (sum, since, shown, nights) = (0.0, at, (0.0, 0.0), 0);
        }
        sum = (sum + likely.min(A_NIGHT)).min(SURE + 2.0 * A_NIGHT);
        shown = (shown.0 + same, shown.1 + lines);
        nights += 1;
        if sum <= SURE {
            // What is worth asking about is not what is usual.
            own = (own.0 + same, own.1 + lines);
            continue;
        }
        let told = Told { usual: chance, own: shown.0 / shown.1, others, nights };
        let (habit, at) = (Habit::RepeatedLines, at as u32);
        let since = since as u32;
        let new =
            Shown { store, habit, found: at, last: at, since, strength: sum, told: Some(told) };
        show(&mut found, new);
    }
    found
}
