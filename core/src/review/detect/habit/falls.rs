//! Recorded waste that falls while use that nothing explains rises: what is thrown away may not be
//! written down.

use super::{EVERY, Shown, show};
use crate::review::Habit;
use crate::review::detect::scan::Scan;

/// The last nights that are looked at.
const WINDOWS: [usize; 2] = [14, 28];
/// So many spreads waste must lie below what it was.
const FALLEN: f64 = 3.5;
/// So many spreads use less waste must lie above: that it does not fall as waste does.
const RISEN: f64 = 2.5;

/// A store's last nights against those before.
struct Fall {
    before: f64,
    after: f64,
    error: f64,
}

fn moved(scan: &Scan, store: usize, from: usize, night: usize) -> Option<Fall> {
    let track = &scan.tracks[store];
    let place = |night: usize| track.nights.partition_point(|n| (*n as usize) < night);
    let (start, end) = (place(from), place(night + 1));
    // Most of the nights must speak.
    if 3 * track.covered(start, end) < 2 * (night + 1 - from) as u32 {
        return None;
    }
    let (before, after) = (track.before(start)?, track.mean(start, end)?);
    let width = scan.replay.width_of(store, night as u32, after.nights);
    let error = track.spread[end - 1] * width * (1.0 / before.weight + 1.0 / after.weight).sqrt();
    Some(Fall { before: before.value, after: after.value, error })
}

/// Looks every week, at what use and recorded waste show with what peers share taken out.
pub(in crate::review::detect) fn falls(used: &Scan, wasted: &Scan, nights: usize) -> Vec<Shown> {
    let mut found: Vec<Vec<Shown>> = vec![Vec::new(); wasted.tracks.len()];
    for night in (EVERY - 1..nights).step_by(EVERY) {
        for (store, found) in found.iter_mut().enumerate() {
            for window in WINDOWS {
                let Some(from) = (night + 1).checked_sub(window) else { continue };
                let Some(waste) = moved(wasted, store, from, night) else { continue };
                if waste.after - waste.before > -FALLEN * waste.error {
                    continue;
                }
                let Some(all) = moved(used, store, from, night) else { continue };
                // Waste lies on a logarithm; its fall is one of the ratio that use is on.
                let (was, is) = (waste.before.exp(), waste.after.exp());
                let hidden = (all.after - all.before) + (was - is);
                let error = all.error.hypot(is * waste.error);
                // A store that truly throws away less uses less.
                if hidden < RISEN * error || all.after < all.before - error {
                    continue;
                }
                let (last, since) = (night as u32, from as u32);
                let (habit, strength) = (Habit::WasteFallsUseRises, hidden / error);
                let shown = Shown { store, habit, found: last, last, since, strength, told: None };
                show(found, shown);
            }
        }
    }
    found.into_iter().flatten().collect()
}
