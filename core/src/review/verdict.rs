//! Whether what was done about a case worked: how the store changed, less how fair peers changed that
//! nobody did anything about.
//!
//! A store is picked out when it looks worst, and what looks worst by chance looks better later,
//! whatever anybody does. So the nights that a case was raised from are in neither window: *before* are
//! the nights between its opening and the promise being kept, and *after* those since.

use super::peers::alike;
use super::words::points;
use super::{Basis, Label, Measure, Sheet};
use crate::calendar::DateSpan;
use crate::stats::{Confidence, Interval};

/// Fewest relied-on nights of either window. Common practice, no source.
const FEWEST_NIGHTS: usize = 10;
/// A night is told from so many peers at least.
const FEWEST_TONIGHT: usize = 3;
/// An improvement of half of what was lost is one.
const PART: f64 = 0.5;
/// Nights that are like each other lie no further apart.
const LAGS: usize = 7;

/// What came of it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Verdict {
    /// It is better, and by more than chance would make it.
    Worked,
    /// It is not better by half of what was lost, and chance does not hide that.
    DidNot,
    /// Too few nights, no fair peers, or chance could have made it either way.
    CannotTell,
}

impl Verdict {
    /// Every verdict that a judgement may come to.
    pub const ALL: &[Self] = &[Self::Worked, Self::DidNot, Self::CannotTell];

    /// Its word in the API.
    ///
    /// ```
    /// assert_eq!(parings_core::review::Verdict::DidNot.word(), "did_not");
    /// ```
    pub fn word(self) -> &'static str {
        match self {
            Self::Worked => "worked",
            Self::DidNot => "did_not",
            Self::CannotTell => "cannot_tell",
        }
    }
}

/// What is compared with what.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Windows {
    /// After the case was raised and before anything was done.
    pub before: DateSpan,
    /// The nights after the promise was kept.
    pub after: DateSpan,
}

/// How a store changed beyond its peers.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Effect {
    /// The change of the measure's ratio, less that of peers.
    pub change: f64,
    /// Where it lies at 95 %.
    pub range: Interval,
    /// How many nights before it rests on.
    pub nights_before: usize,
    /// How many nights after it rests on.
    pub nights_after: usize,
    /// How many peers it was held against.
    pub peers: usize,
}

/// A verdict and what it rests on.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Judgement {
    /// What was decided.
    pub verdict: Verdict,
    /// The change it rests on; none with too few nights or peers.
    pub effect: Option<Effect>,
}

impl Judgement {
    /// The outcome in words, never without its uncertainty.
    pub fn sentence(&self, measure: Measure) -> String {
        let Some(effect) = &self.effect else {
            return format!(
                "It cannot be told whether {} changed: there are fewer than {FEWEST_NIGHTS} nights to \
                 rely on before or after, or too few fair peers.",
                measure.title()
            );
        };
        let says = match self.verdict {
            Verdict::Worked => "It is better since",
            Verdict::DidNot => "It is not better by half of what was lost",
            Verdict::CannotTell => "It cannot be told from chance whether it is better",
        };
        format!(
            "{says}: {} changed by {} points beyond {} fair peers, and from {} to {}, over {} nights \
             against {} before.",
            measure.title(),
            points(effect.change),
            effect.peers,
            points(effect.range.low),
            points(effect.range.high),
            effect.nights_after,
            effect.nights_before
        )
    }
}

/// Judges a case of a store by a measure. `lost` is how large the change was that raised it, as a
/// change of the ratio; `touched` are stores that something is done about or stands out of, which are
/// nobody's peers.
pub fn judge(
    sheet: &Sheet,
    store: Label,
    measure: Measure,
    windows: Windows,
    lost: f64,
    touched: &[Label],
) -> Judgement {
    let effect = effect(sheet, store, measure, windows, touched);
    // On a scale on which a rise is for the worse.
    let worse = measure.worse();
    let verdict = effect.map_or(Verdict::CannotTell, |Effect { range, .. }| {
        let (low, high) =
            if worse > 0.0 { (range.low, range.high) } else { (-range.high, -range.low) };
        if high < 0.0 {
            Verdict::Worked
        } else if low > -PART * lost.abs() {
            Verdict::DidNot
        } else {
            Verdict::CannotTell
        }
    });
    Judgement { verdict, effect }
}

/// A store's nights of the two windows, one after the other.
struct TwoWindows {
    /// Their places in the sheet.
    places: Vec<Option<usize>>,
    parts: Vec<Option<(f64, f64)>>,
    /// How many are before.
    split: usize,
    /// What a night usually takes.
    volume: f64,
    /// The ratio over all of them.
    usual: f64,
}

impl TwoWindows {
    fn of(sheet: &Sheet, store: usize, measure: Measure, windows: Windows) -> Self {
        let dates = windows.before.iter().chain(windows.after.iter());
        let places: Vec<Option<usize>> = dates.map(|date| sheet.night(date)).collect();
        let night =
            |night: &Option<usize>| measure.parts(sheet, store * sheet.nights() + (*night)?);
        let parts: Vec<Option<(f64, f64)>> = places.iter().map(night).collect();
        let known = parts.iter().flatten();
        let (over, under) = known.clone().fold((0.0, 0.0), |(a, b), (x, y)| (a + x, b + y));
        let volume = under / known.count() as f64;
        let split = windows.before.nights() as usize;
        Self { places, parts, split, volume, usual: over / under }
    }

    fn enough(&self) -> bool {
        let (before, after) = self.parts.split_at(self.split);
        [before, after].iter().all(|w| w.iter().flatten().count() >= FEWEST_NIGHTS)
    }

    /// Whether another store cooked from the same lot on a night; where the lot is not told, whether
    /// it stood in the same district.
    fn is_near(&self, sheet: &Sheet, at: usize, own: usize, other: usize) -> bool {
        let Some(night) = self.places[at] else { return false };
        let cell = |store: usize| store * sheet.nights() + night;
        let (lots, places) = (sheet.lots(), sheet.places());
        match lots[cell(own)] {
            Some(lot) => lots[cell(other)] == Some(lot),
            None => places[cell(other)].0 == places[cell(own)].0,
        }
    }
}

fn effect(
    sheet: &Sheet,
    store: Label,
    measure: Measure,
    windows: Windows,
    touched: &[Label],
) -> Option<Effect> {
    let place = sheet.stores().iter().position(|one| *one == store)?;
    let last = sheet.night(windows.after.to())?;
    let nights = |store: usize| TwoWindows::of(sheet, store, measure, windows);
    let own = nights(place);
    if measure == Measure::Habit || !own.enough() {
        return None;
    }
    let format = |store: usize| sheet.places()[store * sheet.nights() + last].1;
    let others: Vec<(usize, TwoWindows)> = (0..sheet.stores().len())
        .filter(|other| *other != place && !touched.contains(&sheet.stores()[*other]))
        .map(|other| (other, nights(other)))
        .filter(|(_, nights)| nights.enough())
        .collect();
    let like = |basis: Basis| -> Vec<&TwoWindows> {
        let same = others.iter().filter(|(other, nights)| {
            alike(basis, (format(place), own.volume), (format(*other), nights.volume))
        });
        same.map(|(_, nights)| nights).collect()
    };
    let peers = Basis::ALL.iter().map(|basis| like(*basis)).find(|p| p.len() >= Basis::FEWEST)?;
    let around = |at: usize| -> Vec<&TwoWindows> {
        let near = others.iter().filter(|(other, _)| own.is_near(sheet, at, place, *other));
        near.map(|(_, nights)| nights).collect()
    };
    // A poor lot, or whatever else the stores around it have in common, is not its own either.
    let shared: Vec<Option<f64>> = (0..own.parts.len())
        .map(|at| {
            middle(&around(at), at, Basis::FEWEST).or_else(|| middle(&peers, at, FEWEST_TONIGHT))
        })
        .collect();
    // Each night less what peers shared on it; weighed by what was at stake.
    let off: Vec<Option<(f64, f64)>> = own
        .parts
        .iter()
        .zip(&shared)
        .map(|(part, shared)| part.zip(*shared).map(|((over, under), c)| (over - c * under, under)))
        .collect();
    let (before, after) = off.split_at(own.split);
    let (before, after) = (WindowMean::of(before)?, WindowMean::of(after)?);
    let change = after.value - before.value;
    let degrees = before.nights.min(after.nights) as u64 - 1;
    let half = Confidence::NINETY_FIVE.t(degrees) * (before.variance + after.variance).sqrt();
    Some(Effect {
        change,
        range: Interval { low: change - half, high: change + half },
        nights_before: before.nights,
        nights_after: after.nights,
        peers: peers.len(),
    })
}

/// What stores shared on a night: the median of how far each lay from what it usually has; none where
/// fewer have anything.
fn middle(stores: &[&TwoWindows], at: usize, fewest: usize) -> Option<f64> {
    let off = stores.iter().filter_map(|nights| {
        let (over, under) = nights.parts[at]?;
        Some(over / under - nights.usual)
    });
    let mut off: Vec<f64> = off.collect();
    off.sort_by(f64::total_cmp);
    let middle = off.len() / 2;
    match off.len() {
        few if few < fewest => None,
        even if even % 2 == 0 => Some(f64::midpoint(off[middle - 1], off[middle])),
        _ => Some(off[middle]),
    }
}

/// The mean of a window as a ratio of sums, with its variance.
struct WindowMean {
    value: f64,
    variance: f64,
    nights: usize,
}

impl WindowMean {
    /// Nights are like their neighbours, so the variance counts products of nights up to a week apart
    /// (W. K. Newey and K. D. West, 1987, Bartlett's weights; from memory), and is never less than that
    /// of nights that are not: a count error that turns round would make it too small.
    fn of(nights: &[Option<(f64, f64)>]) -> Option<Self> {
        let many = nights.iter().flatten().count();
        if many < FEWEST_NIGHTS {
            return None;
        }
        let (over, under) =
            nights.iter().flatten().fold((0.0, 0.0), |(a, b), (x, y)| (a + x, b + y));
        let value = over / under;
        let off =
            |night: &Option<(f64, f64)>| night.map_or(0.0, |(over, under)| over - value * under);
        let off: Vec<f64> = nights.iter().map(off).collect();
        let products =
            |lag: usize| -> f64 { off.iter().zip(&off[lag..]).map(|(a, b)| a * b).sum() };
        let alone = products(0);
        let lags = LAGS.min(many / 4);
        let weighed = |lag: usize| (1.0 - lag as f64 / (lags as f64 + 1.0)) * products(lag);
        let together = alone + 2.0 * (1..=lags).map(weighed).sum::<f64>();
        let small = many as f64 / (many as f64 - 1.0);
        Some(Self { value, variance: small * together.max(alone) / (under * under), nights: many })
    }
}

#[cfg(test)]
mod tests;
