//! What is known of a store around the time a finding began.

use std::collections::BTreeMap;

use chrono::NaiveDate;

use crate::calendar::{BusinessDate, DateSpan};
use crate::review::{Label, Measure, Sheet, Status};
use crate::stats::{Confidence, Interval, RatioSums};

/// So many nights before are compared with.
const PAST: i64 = 56;
/// Fewest nights of a weekday, or of pairs of neighbours, before anything is said of them.
const FEWEST: usize = 6;

/// How something changed: the ratio before and since, and the change with its 95 % range.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Change {
    /// The ratio over the nights before.
    pub before: f64,
    /// The ratio over the nights since.
    pub after: f64,
    /// The ratio since less the ratio before.
    pub size: f64,
    /// Where it lies, as nights differ.
    pub range: Interval,
}

impl Change {
    /// The change from sums before to sums since; none where either has no range.
    pub fn of(before: &RatioSums, after: &RatioSums) -> Option<Self> {
        let confidence = Confidence::NINETY_FIVE;
        let (was, is) = (before.value()?, after.value()?);
        let half = |sums: &RatioSums| sums.interval(confidence).map(|r| (r.high - r.low) / 2.0);
        let half = half(before)?.hypot(half(after)?);
        let size = is - was;
        let range = Interval { low: size - half, high: size + half };
        Some(Self { before: was, after: is, size, range })
    }

    /// Whether chance alone would hardly make it: its range leaves nothing out.
    pub fn is_clear(&self) -> bool {
        self.range.low > 0.0 || self.range.high < 0.0
    }
}

/// A part of a store's figures (an item, a part of the day) and how it changed.
#[derive(Debug, Clone, PartialEq)]
pub struct PartChange {
    /// What it is called.
    pub name: String,
    /// How it changed, as a part of what the whole is measured by.
    pub change: Change,
}

/// What is known of a store around the time a finding began.
#[derive(Debug, Clone, PartialEq)]
pub struct Clues {
    /// What the finding is about.
    pub measure: Measure,
    /// How use changed; none where either ratio has no range.
    pub used: Option<Change>,
    /// How recorded waste changed.
    pub wasted: Option<Change>,
    /// How batch yield changed.
    pub batches: Option<Change>,
    /// How a night's use goes with that of the night before since it began, from −1 to 1: a fault of a
    /// count turns round on the next night. With how many pairs of nights.
    pub alternates: Option<(f64, usize)>,
    /// Nights since that are missing or left out, and all of them.
    pub unsure_nights: (usize, usize),
    /// How use or yield of other stores changed that cooked from the same lots; with how many they are.
    pub same_lots: Option<(Change, usize)>,
    /// The lot that most nights before were cooked from, and most since, where they differ.
    pub lots: Option<[String; 2]>,
    /// Items, by how much each makes use change, the largest first.
    pub items: Vec<PartChange>,
    /// Stages of batches, by how what came out changed as a part of what should, the worst first.
    pub stages: Vec<PartChange>,
    /// Parts of the day, by how their late tickets changed.
    pub dayparts: Vec<PartChange>,
    /// Days of the week, by how the measure changed on them, the worst first.
    pub weekdays: Vec<PartChange>,
    /// What changed within a week of the beginning: when, and what, in words.
    pub changes: Vec<(BusinessDate, String)>,
}

impl Clues {
    /// The clues of a store of which nothing is known but the finding.
    pub fn of_nothing(measure: Measure) -> Self {
        Self {
            measure,
            used: None,
            wasted: None,
            batches: None,
            alternates: None,
            unsure_nights: (0, 0),
            same_lots: None,
            lots: None,
            items: Vec::new(),
            stages: Vec::new(),
            dayparts: Vec::new(),
            weekdays: Vec::new(),
            changes: Vec::new(),
        }
    }

    /// What a sheet knows of a store between two nights, against the eight weeks before them.
    pub fn of(
        sheet: &Sheet,
        store: Label,
        measure: Measure,
        since: BusinessDate,
        as_of: BusinessDate,
    ) -> Self {
        let (from, to) = (since.plus_days(-PAST), since.pred());
        let change = |measure: Measure, store: Label| {
            let before = sheet.sums(measure, store, from, to);
            Change::of(&before, &sheet.sums(measure, store, since, as_of))
        };
        let place = sheet.stores().iter().position(|one| *one == store);
        let span = DateSpan::new(since, as_of).ok();
        let cells: Vec<usize> = place
            .zip(span)
            .map(|(place, span)| {
                let nights = span.iter().filter_map(|date| sheet.night(date));
                nights.map(|night| place * sheet.nights() + night).collect()
            })
            .unwrap_or_default();
        let unsure = |cell: &&usize| {
            matches!(sheet.status()[**cell], Status::Missing | Status::Held | Status::LeftOut)
        };
        Self {
            used: change(Measure::Use, store),
            wasted: change(Measure::Waste, store),
            batches: change(Measure::Yield, store),
            alternates: alternates(sheet, &cells),
            unsure_nights: (cells.iter().filter(unsure).count(), cells.len()),
            lots: place.and_then(|place| lots(sheet, place, [from, since, as_of])),
            weekdays: weekdays(sheet, place, measure, [from, since, as_of]),
            same_lots: same_lots(sheet, store, measure, &cells, change),
            ..Self::of_nothing(measure)
        }
    }
}

/// The lots that a store cooked mostly from before and since; none where they are the same or unknown.
fn lots(
    sheet: &Sheet,
    place: usize,
    [from, since, as_of]: [BusinessDate; 3],
) -> Option<[String; 2]> {
    let main = |from: BusinessDate, to: BusinessDate| {
        let mut nights: BTreeMap<Label, usize> = BTreeMap::new();
        for night in DateSpan::new(from, to).ok()?.iter().filter_map(|date| sheet.night(date)) {
            if let Some(lot) = sheet.lots()[place * sheet.nights() + night] {
                *nights.entry(lot).or_default() += 1;
            }
        }
        Some(nights.into_iter().max_by_key(|(_, nights)| *nights)?.0)
    };
    let (before, after) = (main(from, since.pred())?, main(since, as_of)?);
    let word = |lot| sheet.labels().word(lot).to_owned();
    (before != after).then(|| [word(before), word(after)])
}

/// How a measure changed on each day of the week.
fn weekdays(
    sheet: &Sheet,
    place: Option<usize>,
    measure: Measure,
    [from, since, as_of]: [BusinessDate; 3],
) -> Vec<PartChange> {
    let Some((place, all)) = place.zip(DateSpan::new(from, as_of).ok()) else { return Vec::new() };
    let mut parts: Vec<PartChange> = (0..7)
        .filter_map(|day| {
            let on = |date: &BusinessDate| from.days_until(*date) % 7 == day;
            let night = |date: BusinessDate| {
                let part = measure.parts(sheet, place * sheet.nights() + sheet.night(date)?)?;
                Some((date >= since, part))
            };
            let (after, before): (Vec<_>, Vec<_>) =
                all.iter().filter(on).filter_map(night).partition(|(after, _)| *after);
            let sums = |nights: Vec<(bool, (f64, f64))>| {
                nights.into_iter().map(|(_, part)| part).collect::<RatioSums>()
            };
            let change = Change::of(&sums(before), &sums(after))?;
            let name = NaiveDate::from(from.plus_days(day)).format("%A").to_string();
            Some(PartChange { name, change })
        })
        .collect();
    let worse = |part: &PartChange| measure.worse() * part.change.size;
    parts.sort_by(|a, b| worse(b).total_cmp(&worse(a)));
    parts
}

/// The correlation of use with that of the night before.
fn alternates(sheet: &Sheet, cells: &[usize]) -> Option<(f64, usize)> {
    let ratio = |cell: &usize| {
        let (over, under) = Measure::Use.parts(sheet, *cell)?;
        Some(over / under)
    };
    let nights: Vec<Option<f64>> = cells.iter().map(ratio).collect();
    let known: Vec<f64> = nights.iter().flatten().copied().collect();
    let mean = known.iter().sum::<f64>() / known.len().max(1) as f64;
    let squares: f64 = known.iter().map(|x| (x - mean) * (x - mean)).sum();
    let pairs: Vec<f64> =
        nights.windows(2).filter_map(|pair| Some((pair[0]? - mean) * (pair[1]? - mean))).collect();
    let scale = squares / known.len().max(1) as f64 * pairs.len() as f64;
    (pairs.len() >= FEWEST && scale > 0.0).then(|| (pairs.iter().sum::<f64>() / scale, pairs.len()))
}

/// How stores changed that cooked mostly from the lots that this one did.
fn same_lots(
    sheet: &Sheet,
    store: Label,
    measure: Measure,
    cells: &[usize],
    change: impl Fn(Measure, Label) -> Option<Change>,
) -> Option<(Change, usize)> {
    let measure = if measure == Measure::Yield { measure } else { Measure::Use };
    let nights = sheet.nights();
    let alike = |other: &usize| {
        let same = cells.iter().filter(|cell| {
            let lot = sheet.lots()[**cell];
            lot.is_some() && lot == sheet.lots()[other * nights + **cell % nights]
        });
        2 * same.count() > cells.len()
    };
    let others = (0..sheet.stores().len()).filter(|other| sheet.stores()[*other] != store);
    let mut found: Vec<Change> =
        others.filter(alike).filter_map(|other| change(measure, sheet.stores()[other])).collect();
    if found.len() < crate::review::Basis::FEWEST {
        return None;
    }
    found.sort_by(|a, b| a.size.total_cmp(&b.size));
    let many = found.len();
    // The middle half of them is the range: of one store nothing is told.
    let middle = found[many / 2];
    let range = Interval { low: found[many / 4].size, high: found[3 * many / 4].size };
    Some((Change { range, ..middle }, many))
}
