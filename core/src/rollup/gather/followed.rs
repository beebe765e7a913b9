//! What is known of a store's use only when all of its nights were seen.
//!
//! A count that closes one span and opens the next errs in both by the same amount, and their sum does
//! not err by it: of spans that meet, only the first opening and the last closing count leave anything.
//! And a night that several spans cover, one of each item that was counted, is one night. Nights come
//! in any order, so spans are followed here, store by store, and what they leave is added up at the end.

use std::collections::BTreeMap;
use std::ops::RangeInclusive;

use crate::ids::ItemId;
use crate::quantity::Tallied;
use crate::rollup::nightset::NightSet;
use crate::rollup::runs::Run;
use crate::rollup::{CountEnds, Covered, Every, Sum};

/// Runs of spans and the nights they cover, of one store in one leaf.
#[derive(Default)]
pub(super) struct Followed {
    runs: Vec<Vec<Run>>,
    /// By rhythm: the nights covered by spans whose use has a cost, and whose variance has one.
    covers: [[NightSet; 2]; Every::ALL.len()],
}

impl Followed {
    /// A span of an item, or a run of them.
    pub(super) fn follow(&mut self, item: usize, run: Run) {
        if self.runs.len() <= item {
            self.runs.resize(item + 1, Vec::new());
        }
        run.join(&mut self.runs[item]);
    }

    /// Nights that a span of an item of a rhythm covers: `cost` is 0 where its use has a cost, 1 where its
    /// variance has one.
    pub(super) fn cover(&mut self, every: Every, cost: usize, nights: RangeInclusive<usize>) {
        self.covers[every as usize][cost].add(nights);
    }

    /// Adds what spans leave; of the nights covered those that were open.
    pub(super) fn end(&self, open: &NightSet, to: &mut After) {
        let square = |sd: Tallied| u128::from(sd.thousandths().unsigned_abs()).pow(2);
        for (item, runs) in self.runs.iter().enumerate() {
            let sum: u128 = runs.iter().map(|run| square(run.first.1) + square(run.last.1)).sum();
            if to.squares.len() <= item {
                to.squares.resize(item + 1, 0);
            }
            to.squares[item] = to.squares[item].saturating_add(sum);
        }
        let mut all: [NightSet; 2] = Default::default();
        for every in Every::ALL {
            let [food, variance] = &self.covers[every as usize];
            if food.is_empty() && variance.is_empty() {
                continue;
            }
            all.iter_mut().zip([food, variance]).for_each(|(all, nights)| all.add_all(nights));
            let covered =
                Covered { food: food.many_in_both(open), variance: variance.many_in_both(open) };
            to.rhythms.entry(every).or_default().add(&covered);
        }
        let [food, variance] = all.map(|nights| nights.many_in_both(open));
        to.covered.add(&Covered { food, variance });
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
