//! Whether a store has moved away from its own past and stays there: a scan over when it may have
//! begun, read every night.

use std::borrow::Cow;

use super::replay::Replay;
use super::track::{Mean, Track, WINDOWS};

/// From how many spreads on a step is a finding. Tuned by replay as a rate of episodes: see the
/// table for maintainers.
#[derive(Debug, Clone, Copy)]
pub(super) struct DriftLimits {
    /// For long runs of nights.
    pub(super) step: f64,
    /// So much more for a run of two, half of it for three, and so on.
    pub(super) haste: f64,
}

/// Of the last so many nights of the calendar, at least [`FEWEST`] must speak.
const RECENT: u32 = 14;
const FEWEST: u32 = 10;
/// Nights that tell whether it is over.
const BACK: usize = 7;
/// For so many nights after it was found, when it began is estimated anew.
const REFINED: u32 = 7;
/// A store that is back stays visible for so many nights.
pub(super) const VISIBLE: u32 = 14;

/// A store that moved.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Drift {
    /// The night it was found.
    pub(super) found: u32,
    /// The night it is estimated to have begun; its past is frozen there.
    pub(super) since: u32,
    /// The night it was back; none while it lasts.
    pub(super) over: Option<u32>,
    /// What the store had before.
    pub(super) before: Mean,
}

enum Phase {
    Quiet,
    Moved { start: usize, drift: Drift },
}

/// The drifts of a store, in order. `worse` is 1 where a rise is for the worse.
pub(super) fn drifts(
    track: &Track,
    replay: &Replay,
    worse: f64,
    limits: DriftLimits,
) -> Vec<Drift> {
    let mut track = Cow::Borrowed(track);
    let mut found = Vec::new();
    let mut state = Phase::Quiet;
    let mut wary = 0.0;
    let mut at = 0;
    while at < track.len() {
        let night = track.nights[at];
        match &mut state {
            Phase::Quiet => {
                let recent = track.nights.partition_point(|n| n + RECENT <= night);
                let enough = track.covered(recent, at + 1) >= FEWEST;
                let best = if enough { furthest(&track, replay, worse, limits, at) } else { None };
                if let Some((beyond, start)) = best
                    && beyond > wary
                    && let Some(before) = track.before(start)
                {
                    let since = track.nights[start];
                    let drift = Drift { found: night, since, over: None, before };
                    state = Phase::Moved { start, drift };
                }
            }
            Phase::Moved { start, drift } => {
                if night - drift.found <= REFINED
                    && let Some((_, earlier)) = furthest(&track, replay, worse, limits, at)
                    && let Some(before) = track.before(earlier)
                {
                    (*start, drift.since, drift.before) = (earlier, track.nights[earlier], before);
                }
                if is_back(&track, replay, worse, *start, &drift.before, at) {
                    drift.over = Some(night);
                    found.push(*drift);
                    track.to_mut().forget(*start, at + 1);
                    // What was found once and went by itself must show more to be found again.
                    wary += 0.5;
                    state = Phase::Quiet;
                }
            }
        }
        at += 1;
    }
    if let Phase::Moved { drift, .. } = state {
        found.push(drift);
    }
    found
}

/// The run that lies furthest beyond its limit, and by how much; nothing when none does.
fn furthest(
    track: &Track,
    replay: &Replay,
    worse: f64,
    limits: DriftLimits,
    at: usize,
) -> Option<(f64, usize)> {
    let widths = replay.widths(track.store, track.nights[at]);
    let mut best: Option<(f64, usize)> = None;
    for (window, width) in WINDOWS.iter().zip(widths) {
        let Some(step) = track.step(at, *window) else { continue };
        let change = worse * step.change;
        let limit = limits.step + 2.0 * limits.haste / *window as f64;
        // Most lie within: told without a root.
        if change <= 0.0 || change * change <= limit * limit * width * width * step.variance {
            continue;
        }
        let beyond = change / (step.variance.sqrt() * width) - limit;
        if best.is_none_or(|(most, _)| beyond > most) {
            best = Some((beyond, at + 1 - window));
        }
    }
    best
}

/// Whether the last nights lie nearer to what was before than to what it became.
fn is_back(
    track: &Track,
    replay: &Replay,
    worse: f64,
    start: usize,
    before: &Mean,
    at: usize,
) -> bool {
    if at + 1 < start + 2 * BACK {
        return false;
    }
    let (Some(whole), Some(last)) =
        (track.mean(start, at + 1 - BACK), track.mean(at + 1 - BACK, at + 1))
    else {
        return false;
    };
    let moved = worse * (whole.value - before.value);
    let left = worse * (last.value - before.value);
    let sd = track.spread[at]
        * (1.0 / last.weight).sqrt()
        * replay.width_of(track.store, track.nights[at], BACK);
    left < 0.4 * moved && left < 1.0 * sd
}
