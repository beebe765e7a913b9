//! Single nights far off: notes to managers, as few as replay allows.

use super::fair::Fair;

/// Common practice, no source: a night is worth a note beyond four spreads.
const FEWEST_SPREADS: f64 = 4.0;
/// For how many nights a note stands.
pub(super) const STANDS: u32 = 7;
/// Nights are counted in bins that are a tenth of a spread wide near four spreads, and wider further off:
/// however wild nights are, they are told apart.
const BINS: usize = 800;
const PER_UNIT: f64 = 40.0;

fn bin(spreads: f64) -> usize {
    ((PER_UNIT * spreads.asinh()) as usize).min(BINS - 1)
}

/// How rarely a night may give a note, as a share of all nights so far.
#[derive(Debug, Clone, Copy)]
pub(super) struct NoteRate(pub(super) f64);

/// Nights of stores that lie further off than all but a share of nights did before: store and night.
pub(super) fn nights(fair: &Fair, worse: f64, rate: NoteRate) -> Vec<(usize, u32)> {
    let mut bins = vec![0u64; BINS];
    let mut seen = 0u64;
    let mut found = Vec::new();
    for (night, at) in (0..fair.level.len()).step_by(fair.stores.max(1)).enumerate() {
        let off = |store: usize| worse * fair.residual[at + store] / fair.spread[at + store];
        // Tonight is held against the nights before it: in a chain with few nights so far, one that is
        // further off than all of them would else never be told.
        let limit = limit(&bins, seen, rate);
        for store in 0..fair.stores {
            let z = off(store);
            if z.is_nan() {
                continue;
            }
            if z > limit {
                found.push((store, night as u32));
            }
            seen += 1;
            if z > 0.0 {
                bins[bin(z)] += 1;
            }
        }
    }
    found
}

/// The least limit that no more than the share of nights passed.
fn limit(bins: &[u64], seen: u64, rate: NoteRate) -> f64 {
    let allowed = rate.0 * seen as f64;
    let mut beyond = 0u64;
    for (bin, count) in bins.iter().enumerate().rev() {
        beyond += count;
        if beyond as f64 > allowed {
            return ((bin + 1) as f64 / PER_UNIT).sinh().max(FEWEST_SPREADS);
        }
    }
    FEWEST_SPREADS
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Of 1,000 nights 990 lie at 1 and ten at 6: one in a hundred may pass, so those at 6 may; one in
    /// a thousand may not.
    #[test]
    fn a_limit_lets_no_more_nights_pass_than_its_share() {
        let mut bins = vec![0; BINS];
        (bins[bin(1.0)], bins[bin(6.0)]) = (990, 10);
        assert_eq!(limit(&bins, 1000, NoteRate(0.01)), 4.0);
        assert!((6.0..6.2).contains(&limit(&bins, 1000, NoteRate(0.001))));
        // A hundred nights at 3,000 spreads are as many as a hundred at 30.
        bins[bin(3000.0)] += 100;
        assert!((3000.0..3100.0).contains(&limit(&bins, 1100, NoteRate(0.05))));
    }
}
