//! A measure of all stores, looked through once for every night.

use super::chronic::{Chronic, Funnels, funnels, level};
use super::drift::{Drift, DriftLimits, VISIBLE, drifts};
use super::fair::{Fair, Grouping};
use super::peers::{Member, centre};
use super::replay::Replay;
use super::series::Series;
use super::single::{self, NoteRate, STANDS};
use super::track::Track;
use crate::review::{FindingKind, Measure, Sheet};

/// Nights after which a drift is no longer new. Common practice, no source.
const FOUR_WEEKS: u32 = 28;

/// How a measure is looked at. Chosen by measurement: see the table for maintainers.
struct Tuning {
    limits: DriftLimits,
    rate: NoteRate,
    chronic: f64,
}

fn tuning(measure: Measure) -> Tuning {
    let of = |step, rate, chronic| Tuning {
        limits: DriftLimits { step, haste: 1.0 },
        rate: NoteRate(rate),
        chronic,
    };
    match measure {
        Measure::Waste => of(3.05, 6e-4, 3.3),
        Measure::Use => of(3.45, 2e-5, 4.4),
        Measure::Yield => of(3.5, 2e-5, 4.4),
        Measure::Lateness | Measure::Habit => of(3.3, 2e-5, 4.4),
    }
}

/// What was found of a store, from its first to its last night.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Episode {
    pub(super) store: usize,
    pub(super) kind: FindingKind,
    pub(super) first: u32,
    pub(super) last: u32,
    pub(super) what: Ground,
}

/// What it rests on.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Ground {
    Moved(Drift),
    Differs(Chronic),
    Night,
}

/// A measure looked through.
pub(super) struct Scan {
    pub(super) series: Series,
    pub(super) fair: Fair,
    pub(super) replay: Replay,
    pub(super) tracks: Vec<Track>,
    pub(super) episodes: Vec<Episode>,
}

impl Scan {
    /// Scans a measure of a sheet; none when the sheet has nothing of it.
    pub(super) fn of(sheet: &Sheet, grouping: &Grouping, measure: Measure) -> Option<Self> {
        let series = Series::of(sheet, measure)?;
        let stores = sheet.stores().len();
        let fair = Fair::of(&series, grouping, stores);
        let tracks: Vec<Track> =
            (0..stores).map(|store| Track::of(&series, &fair, store)).collect();
        let replay = Replay::of(&series, &tracks);
        let tuning = tuning(measure);
        let worse = measure.worse();
        let end = sheet.nights().saturating_sub(1) as u32;
        let mut episodes = Vec::new();
        let funnels = funnels(&fair, &tracks, &replay, grouping, worse, tuning.chronic);
        for track in &tracks {
            // Whether it is beyond what peers have, whatever it was itself four weeks ago.
            let beyond = |night: u32| {
                let usual = funnels.usual(grouping, track.store, night)?;
                let own = level(track, &replay, night as usize, FOUR_WEEKS as usize)?;
                Some(worse * (own.value - usual) > 0.0)
            };
            for drift in drifts(track, &replay, worse, tuning.limits) {
                let stays = |night| beyond(night).unwrap_or(true);
                episodes.extend(of_drift(track.store, drift, end, stays));
            }
        }
        let Funnels { found, .. } = funnels;
        episodes.extend(found.into_iter().map(|what| Episode {
            store: what.store,
            kind: FindingKind::Chronic,
            first: what.found,
            last: what.last,
            what: Ground::Differs(what),
        }));
        let nights = single::nights(&fair, worse, tuning.rate);
        episodes.extend(nights.into_iter().map(|(store, night)| Episode {
            store,
            kind: FindingKind::OneNight,
            first: night,
            last: night + STANDS - 1,
            what: Ground::Night,
        }));
        Some(Self { series, fair, replay, tracks, episodes })
    }
}

impl Scan {
    /// Where a store's nights lie, from one of its track up to another, which is left out: by
    /// themselves, however far that is from what was usual before.
    pub(super) fn middle(&self, store: usize, from: usize, to: usize) -> Option<f64> {
        let member = |night: &u32| {
            let at = *night as usize * self.fair.stores + store;
            let weight = self.fair.spread[at].powi(-2);
            Member { store, value: self.fair.level[at], weight }
        };
        let mut nights: Vec<Member> =
            self.tracks[store].nights[from..to].iter().map(member).collect();
        match nights.as_slice() {
            [] => None,
            [one] => Some(one.value),
            _ => centre(&mut nights, 1).map(|centre| centre.value),
        }
    }
}

/// A drift that has lasted for more than four weeks is chronic where it stays beyond what peers have;
/// elsewhere it is what is usual for the store now. One that is over stays visible for a while.
fn of_drift(store: usize, drift: Drift, end: u32, stays: impl Fn(u32) -> bool) -> Vec<Episode> {
    let last = drift.over.map_or(end, |over| over.saturating_sub(1));
    let what = Ground::Moved(drift);
    let turns = drift.since + FOUR_WEEKS + 1;
    let mut episodes = Vec::new();
    let mut add = |kind, first: u32, last: u32| {
        if first <= last {
            episodes.push(Episode { store, kind, first, last, what });
        }
    };
    add(FindingKind::Drift, drift.found, last.min(turns - 1));
    let chronic = drift.found.max(turns);
    if chronic <= last && !stays(chronic) {
        return episodes;
    }
    add(FindingKind::Chronic, chronic, last);
    if let Some(over) = drift.over {
        add(FindingKind::Recovered, over, over + VISIBLE - 1);
    }
    episodes
}
