//! Figures that hardly differ from night to night, where those of others do.

use super::Shown;
use super::peers::{RecentFigure, against_peers};
use crate::review::{Habit, Measure, Sheet};
use crate::stats::Sample;

/// So many last nights are looked at, of which the fewest must have the figure.
const WINDOW: usize = 28;
const FEWEST: usize = 20;
/// Of what others' nights differ by, as a part. Of twenty normal nights the spread is less than this of
/// what it should be once in ten thousand million.
const PART: f64 = 0.2;

pub(super) fn flat(sheet: &Sheet) -> Vec<Shown> {
    let mut found = Vec::new();
    for measure in [Measure::Use, Measure::Waste, Measure::Yield] {
        let spread = |store: usize, from: usize, to: usize| {
            let cells = store * sheet.nights();
            let parts = (cells + from..cells + to).filter_map(|cell| measure.parts(sheet, cell));
            let ratios: Vec<f64> = parts.map(|(over, under)| over / under).collect();
            let sample = Sample::of(&ratios).ok().filter(|_| ratios.len() >= FEWEST)?;
            // No waste for weeks is told as that.
            let told = measure != Measure::Waste || sample.mean() > 0.0;
            sample
                .sd()
                .filter(|_| told)
                .map(|sd| RecentFigure { value: sd.value(), nights: ratios.len() })
        };
        found.extend(against_peers(
            sheet,
            Habit::NoSpread(measure),
            WINDOW,
            spread,
            |own, usual| {
                let part = own.value / usual.centre();
                // Of a normal sample's variance, by how much a lesser spread is likelier.
                let times = (own.nights - 1) as f64;
                (part < PART).then(|| times * (0.5 * part * part - 0.5 - part.max(1e-6).ln()))
            },
        ));
    }
    found
}
