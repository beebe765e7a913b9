//! Stores that have differed from fair peers for long: a funnel, widened by how much stores differ.

use super::fair::{Fair, Grouping};
use super::replay::Replay;
use super::track::Track;
use crate::stats::{Funnel, Noisy, Robust};

/// So many last nights are looked at, of which a store needs some.
const WINDOW: usize = 56;
/// Of the last 28 nights, the fewest. Common practice, no source.
const FEWEST: u32 = 20;
/// A format with fewer stores is compared with every store.
const FEWEST_OF_FORMAT: usize = 12;
/// It is over when it lies so much nearer than where it began.
const SLACK: f64 = 0.6;
/// Looked at every so many nights: levels of eight weeks do not change faster.
const EVERY: usize = 7;

/// A store that differs, from the night it was found to the last it was so.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Chronic {
    pub(super) store: usize,
    pub(super) found: u32,
    pub(super) last: u32,
    /// The level that fair peers lie about, on the scale of the measure.
    pub(super) centre: f64,
    /// How many fair peers it was held against.
    pub(super) peers: usize,
}

/// The level of a store over the last nights, and how surely.
pub(super) fn level(track: &Track, replay: &Replay, night: usize, window: usize) -> Option<Noisy> {
    let to = track.nights.partition_point(|n| *n as usize <= night);
    let from = track.nights.partition_point(|n| *n as usize + window <= night);
    let mean = track.mean(from, to)?;
    let width = replay.width_of(track.store, night as u32, mean.nights);
    let spread = track.spread[to - 1] * width;
    Some(Noisy { value: mean.value, variance: spread * spread / mean.weight })
}

/// Everything found, looked for every week, and what is usual.
pub(super) struct Funnels {
    pub(super) found: Vec<Chronic>,
    /// The middle level by week and format.
    usual: Vec<Vec<f64>>,
}

impl Funnels {
    /// What is usual among the peers of a store on a night, as the last look found it.
    pub(super) fn usual(&self, grouping: &Grouping, store: usize, night: u32) -> Option<f64> {
        let week = (night as usize + 1) / EVERY;
        let group = grouping.formats.of(night as usize)[store];
        let known = self.usual.get(week.checked_sub(1)?)?.get(group as usize)?;
        known.is_finite().then_some(*known)
    }
}

/// Looks every week.
pub(super) fn funnels(
    fair: &Fair,
    tracks: &[Track],
    replay: &Replay,
    grouping: &Grouping,
    worse: f64,
    limit: f64,
) -> Funnels {
    let nights = fair.level.len() / fair.stores.max(1);
    let mut open: Vec<Option<Chronic>> = vec![None; fair.stores];
    let mut found = Vec::new();
    let mut usual = Vec::new();
    for night in (EVERY - 1..nights).step_by(EVERY) {
        let mut middles = vec![f64::NAN; grouping.formats.many()];
        if night < FEWEST as usize {
            usual.push(middles);
            continue;
        }
        let units: Vec<Option<Noisy>> = tracks
            .iter()
            .map(|track| {
                let up_to = |end: usize| track.nights.partition_point(|n| (*n as usize) < end);
                let first = up_to((night + 1).saturating_sub(28));
                let enough = track.covered(first, up_to(night + 1)) >= FEWEST;
                if enough { level(track, replay, night, WINDOW) } else { None }
            })
            .collect();
        let formats = grouping.formats.of(night);
        let mut groups: Vec<Vec<usize>> = vec![Vec::new(); grouping.formats.many()];
        for (store, _) in units.iter().enumerate().filter(|(_, unit)| unit.is_some()) {
            if let Some(group) = groups.get_mut(formats[store] as usize) {
                group.push(store);
            }
        }
        let everyone: Vec<usize> = (0..fair.stores).filter(|s| units[*s].is_some()).collect();
        for (group, usual) in groups.iter().zip(&mut middles) {
            let peers = if group.len() < FEWEST_OF_FORMAT { &everyone } else { group };
            let known: Vec<Noisy> = peers.iter().filter_map(|s| units[*s]).collect();
            let values: Vec<f64> = known.iter().map(|unit| unit.value).collect();
            let Ok(middle) = Robust::of(&values) else { continue };
            *usual = middle.centre();
            let Ok(funnel) = Funnel::of(&known, middle.centre()) else { continue };
            for store in group {
                let Some(unit) = units[*store] else { continue };
                let z = worse * funnel.z(unit);
                let bar = if open[*store].is_some() { limit - SLACK } else { limit };
                if z > bar {
                    let chronic = open[*store].get_or_insert(Chronic {
                        store: *store,
                        found: night as u32,
                        last: night as u32,
                        centre: middle.centre(),
                        peers: known.len() - 1,
                    });
                    chronic.last = (night + EVERY - 1) as u32;
                    chronic.centre = middle.centre();
                } else if let Some(over) = open[*store].take() {
                    found.push(over);
                }
            }
        }
        usual.push(middles);
    }
    found.extend(open.into_iter().flatten());
    Funnels { found, usual }
}
