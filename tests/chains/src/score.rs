//! What was found of what was planted, and what was found where nothing was.

use std::collections::{BTreeMap, BTreeSet};

use parings_core::calendar::BusinessDate;
use parings_core::review::{FindingKind, Label, Measure};

use crate::chain::{Chain, NIGHTS, WATCHED};
use crate::fault::{FaultKind, Plant};

/// What stands out on a night, whatever found it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Flag {
    /// The store; none for a district as a whole.
    pub store: Option<Label>,
    /// Its district.
    pub district: Label,
    /// In what.
    pub measure: Measure,
    /// In what way.
    pub kind: FindingKind,
}

/// How many of a plant were found, and after how many nights each.
#[derive(Debug, Clone, Default)]
pub struct Found {
    /// Planted.
    pub planted: usize,
    /// Nights from onset to the first sign, of those found.
    pub nights: Vec<usize>,
}

/// The score of one way over chains.
#[derive(Debug, Clone, Default)]
pub struct Score {
    /// By plant, in the order of the table.
    pub found: BTreeMap<usize, Found>,
    /// Episodes at stores with nothing planted, by measure and kind.
    pub false_alarms: BTreeMap<(Measure, FindingKind), usize>,
    /// Findings of whole districts.
    pub shared: usize,
    /// District-weeks watched.
    pub district_weeks: f64,
}

impl Score {
    /// Adds a chain: what stood out on each night watched.
    pub fn add(&mut self, chain: &Chain, nights: &[(BusinessDate, Vec<Flag>)]) {
        let faulty: BTreeSet<Label> = chain.faults.iter().map(|f| chain.stores[f.store]).collect();
        for (at, plant) in crate::fault::PLANTS.iter().enumerate() {
            let found = self.found.entry(at).or_default();
            for fault in chain.faults.iter().filter(|f| f.plant == *plant) {
                found.planted += 1;
                let store = chain.stores[fault.store];
                let told = nights.iter().enumerate().find(|(watched, (_, flags))| {
                    let night = NIGHTS - WATCHED + watched;
                    let in_time = fault.plant.kind != FaultKind::Spike || night < fault.onset + 3;
                    let of = |flag: &Flag| {
                        flag.store == Some(store) && fault.is_told_by(flag.measure, flag.kind)
                    };
                    night >= fault.onset && in_time && flags.iter().any(of)
                });
                if let Some((watched, _)) = told {
                    let since = fault.onset.max(NIGHTS - WATCHED);
                    found.nights.push(NIGHTS - WATCHED + watched - since);
                }
            }
        }
        let mut before: BTreeSet<(Option<Label>, Label, Measure)> = BTreeSet::new();
        for (_, flags) in nights {
            let mut now = BTreeSet::new();
            for flag in flags.iter().filter(|f| f.kind != FindingKind::Recovered) {
                let key = (flag.store, flag.district, flag.measure);
                if !now.insert(key) || before.contains(&key) {
                    continue;
                }
                match flag.store {
                    None => self.shared += 1,
                    Some(store) if !faulty.contains(&store) => {
                        *self.false_alarms.entry((flag.measure, flag.kind)).or_default() += 1;
                    }
                    Some(_) => {}
                }
            }
            before = now;
        }
        let districts: BTreeSet<Label> = chain.districts.iter().copied().collect();
        self.district_weeks += (districts.len() * WATCHED) as f64 / 7.0;
    }

    /// Of what the requirement counts: found and planted.
    pub fn headline(&self) -> (usize, usize) {
        let of = |(at, found): (&usize, &Found)| {
            let plant: Plant = crate::fault::PLANTS[*at];
            plant.headline.then_some((found.nights.len(), found.planted))
        };
        self.found.iter().filter_map(of).fold((0, 0), |(a, b), (x, y)| (a + x, b + y))
    }

    /// The share of it that was found.
    pub fn recall(&self) -> f64 {
        let (found, planted) = self.headline();
        found as f64 / planted as f64
    }

    /// False alarms per district-week.
    pub fn alarms(&self) -> f64 {
        self.false_alarms.values().sum::<usize>() as f64 / self.district_weeks
    }

    /// The median of nights to detect, of what was found of a plant.
    pub fn median_nights(found: &Found) -> Option<usize> {
        let mut nights = found.nights.clone();
        nights.sort_unstable();
        nights.get(nights.len() / 2).copied()
    }
}
