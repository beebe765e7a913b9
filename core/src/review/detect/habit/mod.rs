//! How figures are written down: the same number again and again, nothing for longer than chance makes
//! it, whole numbers, numbers that hardly differ. Worth asking "please show us how", and no more than
//! that.

mod amended;
mod copied;
mod falls;
mod flat;
mod lines;
mod nothing;
mod peers;
mod rounded;
mod safety;
#[cfg(test)]
mod tests;

pub(super) use falls::falls;

use crate::review::{Column, Habit, Sheet, Status};

/// Nights without a sign after which it is over.
const OVER: u32 = 7;
/// What is looked at over weeks is looked at every so many nights.
const EVERY: usize = 7;

/// A store that writes something down in a way worth asking about: from when to when it shows, and since
/// when it has.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Shown {
    pub(super) store: usize,
    pub(super) habit: Habit,
    pub(super) found: u32,
    pub(super) last: u32,
    pub(super) since: u32,
    /// Likelihood of it over chance, as a logarithm.
    pub(super) strength: f64,
    /// What it is told by, where that is not recorded waste before and since.
    pub(super) told: Option<Told>,
}

/// What others have and what the store has: shares or spreads.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Told {
    pub(super) usual: f64,
    pub(super) own: f64,
    /// How many others, or nights before.
    pub(super) others: usize,
    pub(super) nights: usize,
}

/// Everything found in a sheet's figures by themselves.
pub(super) fn habits(sheet: &Sheet) -> Vec<Shown> {
    let wasted = by_store(sheet, Column::Wasted);
    let mut found = copied::copied(&wasted, sheet.nights());
    found.extend(nothing::nothing(&wasted, sheet.nights()));
    found.extend(rounded::rounded(sheet, &wasted));
    found.extend(flat::flat(sheet));
    found.extend(lines::lines(sheet));
    found.extend(amended::amended(sheet));
    found.extend(safety::safety(sheet, &wasted));
    merge(found)
}

/// A column of each store's nights; NaN where blank or the night is in no rate.
fn by_store(sheet: &Sheet, column: Column) -> Vec<Vec<f64>> {
    let (nights, figures) = (sheet.nights(), sheet.column(column));
    (0..sheet.stores().len())
        .map(|store| {
            let cells = store * nights..(store + 1) * nights;
            let open = |cell: usize| sheet.status()[cell] == Status::Open;
            cells.map(|cell| if open(cell) { figures[cell] } else { f64::NAN }).collect()
        })
        .collect()
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

/// How much likelier a share is than another of so many trials, as a logarithm.
fn likelier(share: f64, usual: f64, trials: f64) -> f64 {
    let part =
        |share: f64, usual: f64| if share > 0.0 { share * (share / usual).ln() } else { 0.0 };
    trials * (part(share, usual) + part(1.0 - share, 1.0 - usual))
}

/// Shows a habit on a night: goes on with the one shown lately, as it was found, or begins anew.
/// `last` is the last night with a sign of it.
fn show(found: &mut Vec<Shown>, shown: Shown) {
    let last = shown.last + OVER;
    match found.last_mut() {
        Some(before) if before.store == shown.store && before.last + 1 >= shown.found => {
            before.last = last;
        }
        _ => found.push(Shown { last, ..shown }),
    }
}

/// Joins what several signs of one habit say of a store.
fn merge(mut found: Vec<Shown>) -> Vec<Shown> {
    found.sort_by_key(|shown| (shown.store, shown.habit, shown.found));
    let mut merged: Vec<Shown> = Vec::new();
    for shown in found {
        match merged.last_mut() {
            Some(last)
                if last.store == shown.store
                    && last.habit == shown.habit
                    && shown.found <= last.last + 1 =>
            {
                last.last = last.last.max(shown.last);
            }
            _ => merged.push(shown),
        }
    }
    merged
}
