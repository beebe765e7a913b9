//! Counts whose amendments bring use nearer to what was expected far more often than those of others.

use super::{EVERY, Shown, Told, by_store, likelier, show};
use crate::review::{Column, Habit, Sheet};

/// So many last nights are looked at, of which the fewest must have been amended. Common practice, no
/// source.
const WINDOW: usize = 56;
const FEWEST: usize = 10;
/// The least share that is worth asking about: a mended mistake brings use nearer more often than not.
const LEAST: f64 = 0.8;
/// How much likelier it must be than what all amendments do, as a logarithm.
const SURE: f64 = 8.5;
/// How many amendments what all stores' do is weighed against: of a slip mended, two in three.
const PRIOR: (f64, f64) = (20.0, 30.0);

pub(super) fn amended(sheet: &Sheet) -> Vec<Shown> {
    if !sheet.has(Column::FirstUsed) {
        return Vec::new();
    }
    let [first, used, expected] =
        [Column::FirstUsed, Column::Used, Column::Expected].map(|column| by_store(sheet, column));
    // Whether the amendment of a night brought use nearer; nothing where there was none.
    let nearer = |store: usize, night: usize| {
        let due = expected[store][night];
        let (then, now) = (first[store][night] - due, used[store][night] - due);
        (then.is_finite() && now.is_finite() && then != now).then(|| now.abs() < then.abs())
    };
    let stores = sheet.stores().len();
    let mut found: Vec<Vec<Shown>> = vec![Vec::new(); stores];
    for night in (EVERY - 1..sheet.nights()).step_by(EVERY) {
        let from = (night + 1).saturating_sub(WINDOW);
        let counts: Vec<(f64, f64)> = (0..stores)
            .map(|store| {
                let amended = (from..=night).filter_map(|night| nearer(store, night));
                amended.fold((0.0, 0.0), |(yes, all), near| {
                    (yes + f64::from(u8::from(near)), all + 1.0)
                })
            })
            .collect();
        let total = counts.iter().fold(PRIOR, |sum, own| (sum.0 + own.0, sum.1 + own.1));
        for (store, own) in counts.iter().enumerate().filter(|(_, own)| own.1 >= FEWEST as f64) {
            let usual = (total.0 - own.0) / (total.1 - own.1);
            let share = own.0 / own.1;
            let strength = likelier(share, usual, own.1);
            if share < LEAST || share <= usual || strength <= SURE {
                continue;
            }
            let others = counts.iter().filter(|other| other.1 > 0.0).count() - 1;
            let told = Some(Told { usual, own: share, others, nights: own.1 as usize });
            let (last, since) = (night as u32, from as u32);
            let habit = Habit::Amended;
            show(
                &mut found[store],
                Shown { store, habit, found: last, last, since, strength, told },
            );
        }
    }
    found.into_iter().flatten().collect()
}
