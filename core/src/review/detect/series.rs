//! A measure night by night, on a scale on which nights differ evenly.

use std::ops::Range;

use crate::review::{Column, Measure, Sheet, Status};
use crate::stats::Robust;

/// The values of a measure, night by night: those of all stores of a night lie together. NaN where
/// there is none.
pub(super) struct Series {
    pub(super) measure: Measure,
    /// On the scale it is compared on.
    pub(super) values: Vec<f64>,
    /// How much was at stake that night (expected use, batches, tickets): says how noisy it is.
    pub(super) exposure: Vec<f64>,
    /// How many nights each value is of. Nights in between have none of their own.
    pub(super) covers: Vec<u32>,
    /// What was added before the logarithm of waste was taken.
    pub(super) offset: f64,
    /// The first night that enough stores speak of: what is learnt of first nights is learnt from here
    /// on, whatever empty nights a sheet begins with.
    pub(super) begin: usize,
}

/// What is added before the logarithm of waste is taken, as a part of what is usual: a night of nothing
/// is no wilder than one of much.
const SMALL: f64 = 0.3;
/// Scales are set by so many first nights, so that no later night changes what was said.
const FIRST: usize = 28;
/// First nights begin when so many stores speak.
const ENOUGH: usize = 8;
/// How much ticket times say beside late tickets, in units of how each differs between nights.
const TIMES: f64 = 0.4;

/// How much a night weighs in what a store has lately, where a night is blank.
const LATELY: f64 = 0.2;

impl Series {
    /// The series of a measure; none when the sheet has nothing of it.
    pub(super) fn of(sheet: &Sheet, measure: Measure) -> Option<Self> {
        let (stores, nights) = (sheet.stores().len(), sheet.nights());
        let mut values = vec![f64::NAN; stores * nights];
        let mut exposure = vec![f64::NAN; stores * nights];
        let mut covers = vec![1; stores * nights];
        let parts = parts(sheet, measure)?;
        let begin = begin(&parts, nights);
        let offset = match measure {
            Measure::Waste => SMALL * usual(&parts, nights, begin)?,
            _ => 0.0,
        };
        for store in 0..stores {
            let mut before = None;
            for night in 0..nights {
                let Some((over, under)) = parts[store * nights + night] else { continue };
                let at = night * stores + store;
                exposure[at] = under;
                if measure == Measure::Use {
                    // Where only some items are counted after several nights, the others were before.
                    let said = sheet.covers(store * nights + night);
                    covers[at] = before.map_or(said, |before| said.min((night - before) as u32));
                    before = Some(night);
                }
                values[at] = match measure {
                    Measure::Waste => (over / under + offset).ln(),
                    Measure::Lateness => ((over + 0.5) / (under - over + 0.5)).ln(),
                    _ => over / under,
                };
            }
        }
        let mut series = Self { measure, values, exposure, covers, offset, begin };
        if measure == Measure::Lateness {
            series.add_times(sheet);
        }
        Some(series)
    }

    /// The cells of the first so many nights that say something, those of a night together.
    pub(super) fn first(&self, nights: usize, stores: usize) -> Range<usize> {
        let end = self.values.len();
        (self.begin * stores).min(end)..((self.begin + nights) * stores).min(end)
    }

    /// The same of the nights that scales are set by.
    pub(super) fn scaled_by(&self, stores: usize) -> Range<usize> {
        self.first(FIRST, stores)
    }

    /// Adds what ticket times say to late tickets, in their unit.
    fn add_times(&mut self, sheet: &Sheet) {
        let (stores, nights) = (sheet.stores().len(), sheet.nights());
        let column = sheet.column(Column::P90);
        let mut times = vec![f64::NAN; stores * nights];
        for store in 0..stores {
            for night in 0..nights {
                times[night * stores + store] = column[store * nights + night].ln();
            }
        }
        let first = self.scaled_by(stores);
        let steps = (step(&self.values[first.clone()], stores), step(&times[first], stores));
        let (Some(late), Some(slow)) = steps else { return };
        // A night whose tickets are too few to tell times still tells how many are late.
        fill(&mut times, stores);
        for (value, time) in self.values.iter_mut().zip(times) {
            *value += TIMES * late / slow * time;
        }
    }
}

/// Numerator and denominator of each cell. Waste of a sheet without expected use is over portions,
/// else over sales.
fn parts(sheet: &Sheet, measure: Measure) -> Option<Vec<Option<(f64, f64)>>> {
    let cells = sheet.status().len();
    if measure != Measure::Waste {
        let found: Vec<_> = (0..cells).map(|cell| measure.parts(sheet, cell)).collect();
        return found.iter().any(Option::is_some).then_some(found);
    }
    let over = sheet.column(Column::Wasted);
    let under = if sheet.has(Column::Expected) {
        expected(sheet)
    } else {
        let under = [Column::Portions, Column::Sales];
        sheet.column(under.into_iter().find(|column| sheet.has(*column))?).to_vec()
    };
    let part = |cell: usize| {
        let open = sheet.status()[cell] == Status::Open;
        (open && over[cell] >= 0.0 && under[cell] > 0.0).then(|| (over[cell], under[cell]))
    };
    let found: Vec<_> = (0..cells).map(part).collect();
    found.iter().any(Option::is_some).then_some(found)
}

/// The first night that so many stores speak of, or all of them where there are fewer; else the first
/// that any does.
fn begin(parts: &[Option<(f64, f64)>], nights: usize) -> usize {
    let stores = parts.len() / nights.max(1);
    let mut speak = vec![0usize; nights];
    for store in parts.chunks(nights.max(1)) {
        for (many, part) in speak.iter_mut().zip(store) {
            *many += usize::from(part.is_some());
        }
    }
    let first = |fewest| speak.iter().position(|many| *many >= fewest);
    first(ENOUGH.min(stores)).or_else(|| first(1)).unwrap_or(0)
}

/// What sales of each night should have taken, where the sheet tells it. Of a night that ends no count of one night it is told by
/// its portions, at what a portion took lately.
fn expected(sheet: &Sheet) -> Vec<f64> {
    let (stores, nights) = (sheet.stores().len(), sheet.nights());
    let (due, portions) = (sheet.column(Column::Expected), sheet.column(Column::Portions));
    let told = sheet.column(Column::Due);
    let one_night = |cell: usize| sheet.covers(cell) == 1 && due[cell] > 0.0;
    let ever = (0..due.len()).any(|cell| one_night(cell) && portions[cell] > 0.0);
    let mut each = vec![f64::NAN; stores * nights];
    for store in 0..stores {
        for night in 0..nights {
            let cell = store * nights + night;
            if portions[cell] > 0.0 && (one_night(cell) || !ever) {
                each[night * stores + store] =
                    due[cell] / f64::from(sheet.covers(cell)) / portions[cell];
            }
        }
    }
    fill(&mut each, stores);
    let of = |cell: usize| {
        let lately = each[cell % nights * stores + cell / nights];
        if told[cell] > 0.0 {
            told[cell]
        } else if one_night(cell) {
            due[cell]
        } else {
            portions[cell] * lately
        }
    };
    (0..due.len()).map(of).collect()
}

/// Sets what is blank to what the store had lately, else to what stores have.
fn fill(times: &mut [f64], stores: usize) {
    let first = times.iter().copied().filter(|time| time.is_finite()).take(FIRST * stores);
    let known: Vec<f64> = first.collect();
    let Ok(usual) = Robust::of(&known) else { return };
    let mut lately = vec![usual.centre(); stores];
    for night in times.chunks_mut(stores) {
        for (time, lately) in night.iter_mut().zip(&mut lately) {
            if time.is_finite() {
                *lately += LATELY * (*time - *lately);
            } else {
                *time = *lately;
            }
        }
    }
}

/// The median ratio of the first nights that are not nothing.
fn usual(parts: &[Option<(f64, f64)>], nights: usize, begin: usize) -> Option<f64> {
    let mut ratios: Vec<f64> = parts
        .chunks(nights)
        .flat_map(|store| store.iter().skip(begin).take(FIRST))
        .flatten()
        .map(|(over, under)| over / under)
        .filter(|ratio| *ratio > 0.0)
        .collect();
    let middle = ratios.len() / 2;
    (!ratios.is_empty()).then(|| *ratios.select_nth_unstable_by(middle, f64::total_cmp).1)
}

/// The usual step from one of these nights to the next.
fn step(values: &[f64], stores: usize) -> Option<f64> {
    let steps = values.iter().zip(values.get(stores..)?).map(|(a, b)| b - a);
    let steps: Vec<f64> = steps.filter(|step| step.is_finite()).collect();
    let spread = Robust::of(&steps).ok()?.spread().value();
    (spread > 0.0).then_some(spread)
}
