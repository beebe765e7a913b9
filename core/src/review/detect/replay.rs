//! How much more runs of nights differ than independent nights would: learnt from all stores, night
//! by night, by replay. A count error that turns round on the next night makes runs steadier, a store
//! that wanders makes them less so; either way a step is measured by what such steps are.

use super::series::Series;
use super::track::{Track, WINDOWS};

/// Of every so many nights one is looked at: neighbours say the same.
const EVERY: usize = 3;
/// A step beyond so many spreads says no more than at it.
const CUT: f64 = 3.0;
/// How many steps of independent nights it is weighed against.
const PRIOR: f64 = 50.0;
/// Stores are told apart by volume in so many equal bands: an error of 2 kg is much to a small one.
const BANDS: usize = 5;

pub(super) type Widths = [f64; WINDOWS.len()];

/// How much wider than of independent nights steps are, by band, night and window.
pub(super) struct Replay {
    bands: Vec<usize>,
    widths: Vec<Vec<Widths>>,
}

impl Replay {
    pub(super) fn of(series: &Series, tracks: &[Track]) -> Self {
        let bands = bands(series, tracks.len());
        let nights = series.values.len() / tracks.len().max(1);
        let widths = (0..BANDS).map(|band| {
            let of_band = |track: &&Track| bands[track.store] == band;
            learnt(nights, tracks.iter().filter(of_band))
        });
        let widths = widths.collect();
        Self { bands, widths }
    }

    /// How much wider steps of each window are for such a store, as known on a night.
    pub(super) fn widths(&self, store: usize, night: u32) -> &Widths {
        &self.widths[self.bands[store]][night as usize]
    }

    /// The same of the window nearest to so many nights.
    pub(super) fn width_of(&self, store: usize, night: u32, nights: usize) -> f64 {
        let window = WINDOWS.iter().position(|w| *w >= nights).unwrap_or(WINDOWS.len() - 1);
        self.widths(store, night)[window]
    }
}

fn learnt<'a>(nights: usize, tracks: impl Iterator<Item = &'a Track>) -> Vec<Widths> {
    let mut sums = vec![[(0.0f64, 0.0f64); WINDOWS.len()]; nights];
    for track in tracks {
        for (at, night) in track.nights.iter().map(|night| *night as usize).enumerate() {
            if !(night + track.store).is_multiple_of(EVERY) {
                continue;
            }
            for (window, (squares, count)) in WINDOWS.iter().zip(&mut sums[night]) {
                let Some(step) = track.step(at, *window) else { continue };
                *squares += (step.change * step.change / step.variance).min(CUT * CUT);
                *count += 1.0;
            }
        }
    }
    let mut so_far = [(0.0f64, 0.0f64); WINDOWS.len()];
    let widths = sums.iter().map(|night| {
        let mut widths = [1.0; WINDOWS.len()];
        for (window, width) in widths.iter_mut().enumerate() {
            so_far[window].0 += night[window].0;
            so_far[window].1 += night[window].1;
            let (squares, count) = so_far[window];
            *width = ((squares + PRIOR) / (count + PRIOR)).sqrt();
        }
        widths
    });
    widths.collect()
}

/// The volume band of each store.
fn bands(series: &Series, stores: usize) -> Vec<usize> {
    let first = &series.exposure[series.scaled_by(stores)];
    let volume = |store: usize| {
        let known = first.iter().skip(store).step_by(stores).filter(|x| x.is_finite());
        let (sum, many) = known.fold((0.0, 0.0), |(sum, many), x| (sum + x, many + 1.0));
        sum / many
    };
    let volumes: Vec<f64> = (0..stores).map(volume).collect();
    let mut order: Vec<usize> = (0..stores).collect();
    order.sort_by(|a, b| volumes[*a].total_cmp(&volumes[*b]));
    let mut bands = vec![0; stores];
    for (rank, store) in order.iter().enumerate() {
        // One that came later is as good as any.
        let new = volumes[*store].is_nan();
        bands[*store] = if new { BANDS / 2 } else { rank * BANDS / stores };
    }
    bands
}
