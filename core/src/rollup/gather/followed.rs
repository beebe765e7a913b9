//! What is known of a store's use only when all of its nights were seen.
//!
//! A count that closes one span and opens the next errs in both by the same amount, and their sum does
//! not err by it: of spans that meet, only the first opening and the last closing count leave anything.
//! And a night that several spans cover, one of each item that was counted, is one night. Nights come
//! in any order, so spans are followed here, store by store, and what they leave is added up at the end.

use std::collections::BTreeMap;
use std::ops::RangeInclusive;

use crate::calendar::BusinessDate;
use crate::ids::ItemId;
use crate::quantity::Tallied;
use crate::rollup::{CountEnds, Covered, Every, Sum};

/// Runs of spans and the nights they cover, of one store in one leaf.
#[derive(Default)]
pub(super) struct Followed {
    runs: Vec<Vec<Run>>,
    /// By rhythm: the nights covered by spans whose use has a cost, and whose variance has one.
    covers: [[Vec<u64>; 2]; Every::ALL.len()],
}

/// A run of spans, each of which opens with the count that the one before closed with.
#[derive(Clone, Copy)]
struct Run {
    first: (BusinessDate, Tallied),
    last: (BusinessDate, Tallied),
}

impl Followed {
    /// A span of an item, from the date and spread of one count to those of the next.
    pub(super) fn follow(
        &mut self,
        item: usize,
        opening: (BusinessDate, Tallied),
        closing: (BusinessDate, Tallied),
    ) {
        if self.runs.len() <= item {
            self.runs.resize(item + 1, Vec::new());
        }
        let runs = &mut self.runs[item];
        let before = runs.iter().rposition(|run| run.last == opening);
        let after = runs.iter().rposition(|run| run.first == closing);
        match (before, after) {
            (Some(before), Some(after)) => {
                runs[before].last = runs[after].last;
                runs.swap_remove(after);
            }
            (Some(before), None) => runs[before].last = closing,
            (None, Some(after)) => runs[after].first = opening,
            (None, None) => runs.push(Run { first: opening, last: closing }),
        }
    }

    /// Nights that a span of an item of a rhythm covers: `cost` is 0 where its use has a cost, 1 where its
    /// variance has one.
    pub(super) fn cover(&mut self, every: Every, cost: usize, nights: RangeInclusive<usize>) {
        let bits = &mut self.covers[every as usize][cost];
        for night in nights {
            let word = night / 64;
            if bits.len() <= word {
                bits.resize(word + 1, 0);
            }
            bits[word] |= 1 << (night % 64);
        }
    }

    /// Adds what spans leave; of the nights covered those that were open, which `open` has a bit for.
    pub(super) fn end(&self, open: &[u64], to: &mut After) {
        let square = |sd: Tallied| u128::from(sd.thousandths().unsigned_abs()).pow(2);
        for (item, runs) in self.runs.iter().enumerate() {
            let sum: u128 = runs.iter().map(|run| square(run.first.1) + square(run.last.1)).sum();
            if to.squares.len() <= item {
                to.squares.resize(item + 1, 0);
            }
            to.squares[item] = to.squares[item].saturating_add(sum);
        }
        let many = |bits: &[u64]| -> u64 {
            bits.iter().zip(open).map(|(bits, open)| u64::from((bits & open).count_ones())).sum()
        };
        let mut all: [Vec<u64>; 2] = [vec![0; open.len()], vec![0; open.len()]];
        for every in Every::ALL {
            let [food, variance] = &self.covers[every as usize];
            if food.is_empty() && variance.is_empty() {
                continue;
            }
            for (all, bits) in all.iter_mut().zip([food, variance]) {
                all.iter_mut().zip(bits).for_each(|(all, bits)| *all |= bits);
            }
            let covered = Covered { food: many(food), variance: many(variance) };
            let sum = to.rhythms.entry(every).or_default();
            *sum = std::mem::take(sum).merge(&covered);
        }
        let covered = Covered { food: many(&all[0]), variance: many(&all[1]) };
        to.covered = std::mem::take(&mut to.covered).merge(&covered);
    }
}

/// What spans leave when all were followed: by item how far counts are off, in squared thousandths, and
/// the nights that spans cover.
#[derive(Default, Clone)]
pub(super) struct After {
    squares: Vec<u128>,
    covered: Covered,
    rhythms: BTreeMap<Every, Covered>,
}

impl After {
    /// Puts it into the sum; `items` are those of the numbers that spans were followed by.
    pub(super) fn settle(self, items: &[ItemId], sum: &mut Sum) {
        for (id, squares) in items.iter().zip(self.squares) {
            if let Some(item) = sum.items.get_mut(id) {
                item.compared.ends = CountEnds::settled(squares);
            }
        }
        (sum.covered, sum.rhythms) = (self.covered, self.rhythms);
    }
}
