//! What is told of what was found, on a date.

use std::collections::BTreeMap;

use super::chronic::level;
use super::fair::Grouping;
use super::habit::Shown;
use super::scan::{Episode, Ground, Scan};
use super::track::Mean;
use crate::calendar::DateSpan;
use crate::review::{
    Baseline, Column, Evidence, Finding, FindingKind, Habit, Label, Measure, Sheet,
};
use crate::rollup::{Better, Compared, Rank, ranks};
use crate::stats::{Confidence, Interval, RatioSums, Robust};

/// What a district shares is told from so many standard errors on.
const SHARED: f64 = 5.0;
/// What is told of before is of so many nights.
const PAST: usize = 84;
/// A format with fewer others is compared with every store.
const FEWEST_OF_FORMAT: usize = 8;
/// A level for ranks is of so many nights.
const RANKED: usize = 28;

pub(super) fn findings(
    sheet: &Sheet,
    grouping: &Grouping,
    scan: &[Scan],
    habits: &[Shown],
    dates: DateSpan,
) -> Vec<Finding> {
    let telling = Telling { sheet, grouping, scan };
    let mut all = Vec::new();
    for date in dates.iter() {
        let Some(night) = sheet.night(date) else { continue };
        let mut found = telling.of_night(night, habits);
        let money = |finding: &Finding| finding.money_per_week.unwrap_or(f64::NEG_INFINITY);
        found.sort_by(|a, b| money(b).total_cmp(&money(a)));
        all.extend(found);
    }
    all
}

struct Telling<'a> {
    sheet: &'a Sheet,
    grouping: &'a Grouping,
    scan: &'a [Scan],
}

/// A change on the scale of its measure, with its standard error and how much of it is believed.
struct Shift {
    value: f64,
    error: f64,
    believed: f64,
}

impl Telling<'_> {
    fn of_night(&self, night: usize, habits: &[Shown]) -> Vec<Finding> {
        let mut found: Vec<Finding> = Vec::new();
        for scan in self.scan {
            let measure = scan.series.measure;
            // One finding of a store and measure: the one that says most.
            let mut by_store: BTreeMap<usize, &Episode> = BTreeMap::new();
            let on = |e: &&Episode| (e.first as usize..=e.last as usize).contains(&night);
            for episode in scan.episodes.iter().filter(on) {
                let told = by_store.entry(episode.store).or_insert(episode);
                if weight(episode) > weight(told) {
                    *told = episode;
                }
            }
            for episode in by_store.into_values() {
                found.extend(self.finding(scan, measure, episode, night));
            }
            found.extend(self.shared(scan, night));
        }
        tell_once(&mut found);
        let on = |shown: &&Shown| (shown.found as usize..=shown.last as usize).contains(&night);
        found.extend(habits.iter().filter(on).map(|shown| self.habit(shown, night)));
        found
    }

    fn finding(
        &self,
        scan: &Scan,
        measure: Measure,
        episode: &Episode,
        night: usize,
    ) -> Option<Finding> {
        let store = episode.store;
        let track = &scan.tracks[store];
        let to = track.nights.partition_point(|n| *n as usize <= night);
        let from_of = |first: u32| track.nights.partition_point(|n| *n < first);
        let width = |nights: usize| scan.replay.width_of(store, night as u32, nights);
        let (since, before, change, against, nights_after) = match episode.what {
            Ground::Moved(drift) => {
                let until = drift.over.map_or(to, |over| from_of(over).min(to));
                let after = track.mean(from_of(drift.since), until)?;
                let spread = track.spread[until - 1];
                let variance = 1.0 / after.weight + 1.0 / drift.before.weight;
                let error = spread * variance.sqrt() * width(after.nights);
                let Mean { value, nights, .. } = drift.before;
                // The scan holds each night near to what was usual before; the size must not.
                let now = scan.middle(store, from_of(drift.since), until)?;
                let change = picked(now - value, error);
                (drift.since, value, change, Baseline::Past(nights), after.nights)
            }
            Ground::Differs(chronic) => {
                let own = level(track, &scan.replay, night, 56)?;
                let first = night.saturating_sub(55) as u32;
                let change = picked(own.value - chronic.centre, own.variance.sqrt());
                let against = Baseline::Peers(chronic.peers);
                (first, chronic.centre, change, against, to - from_of(first))
            }
            Ground::Night => {
                let at = from_of(episode.first);
                let at_night = episode.first as usize * scan.fair.stores + store;
                let (off, error) = (scan.fair.residual[at_night], scan.fair.spread[at_night]);
                let usual = scan.fair.level[at_night] - off;
                (episode.first, usual, picked(off, error), Baseline::Past(at), 1)
            }
        };
        let (first, last) = (since as usize, night.min(last_of(episode)));
        let since_then = self.ratio(measure, store, first, last);
        let now = since_then.and_then(|sums| sums.value());
        let form = Form::of(scan);
        let (told, against) = match against {
            Baseline::Peers(_) if measure == Measure::Lateness => {
                (self.of_peers(measure, store, (first, last)), against)
            }
            Baseline::Peers(_) => (now.map(|now| form.without(now, change.value)), against),
            Baseline::Past(nights) => {
                let past = self.past(measure, &[store], first);
                let nights = past.map_or(nights, |sums| sums.units() as usize);
                (past.and_then(|sums| sums.value()), Baseline::Past(nights))
            }
        };
        // Ticket times are in the scale of late tickets: they say how surely, and tickets how far.
        let change = match (form, now, told) {
            (Form::Odds, Some(now), Some(before)) => {
                change.that_is(log_odds(now) - log_odds(before))
            }
            _ => change,
        };
        let nights_after = since_then.map_or(nights_after, |sums| sums.units() as usize);
        let scale = Scale { before: told.unwrap_or_else(|| form.ratio(before, now)), form };
        let size = scale.of(change.value * change.believed);
        let half = Confidence::NINETY_FIVE.z() * change.error;
        let ends = [change.value - half, change.value + half].map(|end| scale.of(end));
        let range = Interval { low: ends[0].min(size), high: ends[1].max(size) };
        // What is back costs nothing any more, and one night costs what it cost once.
        let lasts = !matches!(episode.kind, FindingKind::Recovered | FindingKind::OneNight);
        let money = self.money(measure, store, night, size, scale.before);
        let money_per_week = money.filter(|_| lasts);
        Some(Finding {
            as_of: self.sheet.date(night),
            store: Some(self.sheet.stores()[store]),
            district: self.sheet.places()[store * self.sheet.nights() + night].0,
            measure,
            kind: episode.kind,
            since: self.sheet.date(since as usize),
            size,
            range,
            money_per_week,
            rank: self.rank(scan, measure, store, night),
            evidence: Evidence {
                before: scale.before,
                after: now.unwrap_or_else(|| scale.before + scale.of(change.value)),
                against,
                nights_after,
                strength: measure.worse() * change.value / change.error,
                beside: self.beside(measure, store, (first, last), against),
                habit: None,
            },
        })
    }

    fn ratio(&self, measure: Measure, store: usize, from: usize, to: usize) -> Option<RatioSums> {
        self.ratio_of(measure, &[store], from, to)
    }

    /// The sums of stores over the nights before one.
    fn past(&self, measure: Measure, stores: &[usize], before: usize) -> Option<RatioSums> {
        self.ratio_of(measure, stores, before.saturating_sub(PAST), before.checked_sub(1)?)
    }

    /// The sums of stores over nights that are relied on; none where no night is.
    fn ratio_of(
        &self,
        measure: Measure,
        stores: &[usize],
        from: usize,
        to: usize,
    ) -> Option<RatioSums> {
        let nights = |store: &usize| {
            let cells = store * self.sheet.nights();
            cells + from..=cells + to
        };
        let of = stores.iter().flat_map(nights);
        let sums: RatioSums = of.filter_map(|cell| measure.parts(self.sheet, cell)).collect();
        Some(sums).filter(|sums| sums.units() > 0)
    }

    /// What a change of the ratio costs a week, at what the store takes lately.
    fn money(
        &self,
        measure: Measure,
        store: usize,
        night: usize,
        size: f64,
        before: f64,
    ) -> Option<f64> {
        let sums = self.ratio(measure, store, night.saturating_sub(RANKED - 1), night)?;
        let week = 7.0 * sums.under() / sums.units() as f64;
        let cost = self.sheet.cost();
        match measure {
            Measure::Use | Measure::Waste => Some(cost.of(size * week)),
            Measure::Yield if before > 0.0 => Some(cost.of(-size / before * week)),
            _ => None,
        }
    }

    /// By how much the other of use and waste changed, as a part of expected use; where it is told from
    /// peers, by how much it differs from theirs.
    fn beside(
        &self,
        measure: Measure,
        store: usize,
        span: (usize, usize),
        against: Baseline,
    ) -> Option<f64> {
        let other = match measure {
            Measure::Use => Measure::Waste,
            Measure::Waste => Measure::Use,
            _ => return None,
        };
        let (first, last) = span;
        let now = self.ratio(other, store, first, last)?.value()?;
        let then = match against {
            Baseline::Past(_) => self.past(other, &[store], first)?.value()?,
            Baseline::Peers(_) => self.of_peers(other, store, span)?,
        };
        Some(now - then)
    }

    /// The middle ratio of the other stores of the format over the same nights; of all others, where
    /// the format has too few.
    fn of_peers(
        &self,
        measure: Measure,
        store: usize,
        (first, last): (usize, usize),
    ) -> Option<f64> {
        let formats = self.grouping.formats.of(last.min(self.sheet.nights() - 1));
        let ratios = |alike: &dyn Fn(usize) -> bool| -> Vec<f64> {
            let others = (0..formats.len()).filter(|other| *other != store && alike(*other));
            others.filter_map(|other| self.ratio(measure, other, first, last)?.value()).collect()
        };
        let mut found = ratios(&|other| formats[other] == formats[store]);
        if found.len() < FEWEST_OF_FORMAT {
            found = ratios(&|_| true);
        }
        Some(Robust::of(&found).ok()?.centre())
    }

    fn rank(&self, scan: &Scan, measure: Measure, store: usize, night: usize) -> Option<Rank> {
        let districts = self.grouping.districts.of(night);
        let alike: Vec<usize> =
            (0..districts.len()).filter(|s| districts[*s] == districts[store]).collect();
        let z = Confidence::NINETY_FIVE.z();
        let compared: Vec<Compared> = alike
            .iter()
            .map(|other| {
                let level = level(&scan.tracks[*other], &scan.replay, night, RANKED);
                let range = level.map(|level| {
                    let half = z * level.variance.sqrt();
                    Interval { low: level.value - half, high: level.value + half }
                });
                Compared { range, nights: 1, doubtful: false }
            })
            .collect();
        let better = if measure == Measure::Yield { Better::High } else { Better::Low };
        let at = alike.iter().position(|other| *other == store)?;
        ranks(&compared, better, 1)[at]
    }

    /// Districts whose stores moved together.
    fn shared(&self, scan: &Scan, night: usize) -> Vec<Finding> {
        let measure = scan.series.measure;
        let many = scan.fair.many_districts;
        let now = &scan.fair.districts[night * many..(night + 1) * many];
        let mut told = Vec::new();
        for (district, (value, z)) in now.iter().enumerate() {
            if measure.worse() * z < SHARED || measure == Measure::Lateness {
                continue;
            }
            let here =
                |store: &usize| self.grouping.districts.of(night)[*store] as usize == district;
            let stores: Vec<usize> = (0..scan.fair.stores).filter(here).collect();
            let Some(first) = stores.first() else { continue };
            let since = (0..=night)
                .rev()
                .take_while(|n| {
                    measure.worse() * scan.fair.districts[n * many + district].1 > SHARED / 2.0
                })
                .last();
            let since = since.unwrap_or(night);
            let error = (value / z).abs();
            let since_then = self.ratio_of(measure, &stores, since, night);
            let now = since_then.and_then(|sums| sums.value());
            let past = self.past(measure, &stores, since).and_then(|sums| sums.value());
            let form = Form::of(scan);
            let before = past.or_else(|| now.map(|now| form.without(now, *value)));
            let scale = Scale { before: before.unwrap_or(0.0), form };
            let half = Confidence::NINETY_FIVE.z() * error;
            let money: f64 = stores
                .iter()
                .filter_map(|s| self.money(measure, *s, night, scale.of(*value), scale.before))
                .sum();
            told.push(Finding {
                as_of: self.sheet.date(night),
                store: None,
                district: self.sheet.places()[first * self.sheet.nights() + night].0,
                measure,
                kind: FindingKind::Shared,
                since: self.sheet.date(since),
                size: scale.of(*value),
                range: Interval { low: scale.of(value - half), high: scale.of(value + half) },
                money_per_week: Some(money),
                rank: None,
                evidence: Evidence {
                    before: scale.before,
                    after: now.unwrap_or_else(|| scale.before + scale.of(*value)),
                    against: Baseline::Past(since.min(PAST)),
                    nights_after: night + 1 - since,
                    strength: measure.worse() * z,
                    beside: None,
                    habit: None,
                },
            });
        }
        told
    }

    /// The share of lines that repeat the count before, and of how many nights.
    fn repeated(&self, store: usize, from: usize, to: usize) -> Option<(f64, usize)> {
        let (same, all) = (self.sheet.column(Column::SameLines), self.sheet.column(Column::Lines));
        let cells = store * self.sheet.nights();
        let nights = (cells + from..=cells + to).filter(|c| all[*c] > 0.0 && same[*c] >= 0.0);
        let sums: RatioSums = nights.map(|cell| (same[cell], all[cell])).collect();
        Some((sums.value()?, sums.units() as usize))
    }

    fn habit(&self, shown: &Shown, night: usize) -> Finding {
        let since = shown.since as usize;
        let cells = shown.store * self.sheet.nights();
        let wasted = self.sheet.column(Column::Wasted);
        let mean = |from: usize, to: usize| {
            let known: Vec<f64> =
                wasted[cells + from..cells + to].iter().copied().filter(|w| !w.is_nan()).collect();
            let many = known.len().max(1) as f64;
            (known.iter().sum::<f64>() / many, known.len())
        };
        let (before, after, against, nights_after) = match shown.told {
            Some(told) => {
                let lately = (shown.habit == Habit::RepeatedLines)
                    .then(|| self.repeated(shown.store, since, night))
                    .flatten();
                let (own, nights) = lately.unwrap_or((told.own, told.nights));
                (told.usual, own, Baseline::Peers(told.others), nights)
            }
            None => {
                let ((before, past), (after, nights)) = (mean(0, since), mean(since, night + 1));
                (before, after, Baseline::Past(past), nights)
            }
        };
        let tells_use = matches!(shown.habit, Habit::Nothing | Habit::WasteFallsUseRises);
        let own = Baseline::Past(0);
        let beside = self.beside(Measure::Waste, shown.store, (since, night), own);
        Finding {
            as_of: self.sheet.date(night),
            store: Some(self.sheet.stores()[shown.store]),
            district: self.sheet.places()[cells + night].0,
            measure: Measure::Habit,
            kind: FindingKind::Habit,
            since: self.sheet.date(since),
            size: 0.0,
            range: Interval { low: 0.0, high: 0.0 },
            money_per_week: None,
            rank: None,
            evidence: Evidence {
                before,
                after,
                against,
                nights_after,
                strength: shown.strength,
                beside: beside.filter(|_| tells_use),
                habit: Some(shown.habit),
            },
        }
    }
}

/// Recorded waste is in use: where a store's waste is told, the same of its use stands beside it as
/// evidence and is not told again.
fn tell_once(found: &mut Vec<Finding>) {
    let wasted: Vec<(Option<Label>, FindingKind)> = found
        .iter()
        .filter(|f| f.measure == Measure::Waste && f.store.is_some())
        .map(|f| (f.store, f.kind))
        .collect();
    found.retain(|f| f.measure != Measure::Use || !wasted.contains(&(f.store, f.kind)));
}

impl Shift {
    /// Another value that is known as surely.
    fn that_is(self, value: f64) -> Self {
        let error =
            if self.value == 0.0 { self.error } else { self.error * (value / self.value).abs() };
        Self { value, error, ..self }
    }
}

/// Which of two findings of a store and measure is told.
fn weight(episode: &Episode) -> u8 {
    match episode.kind {
        FindingKind::Drift => 5,
        FindingKind::Chronic => 4,
        FindingKind::OneNight => 3,
        FindingKind::Recovered => 2,
        FindingKind::Habit | FindingKind::Shared => 1,
    }
}

fn last_of(episode: &Episode) -> usize {
    match episode.what {
        Ground::Moved(drift) => drift.over.map_or(usize::MAX, |over| over as usize),
        Ground::Differs(_) => usize::MAX,
        Ground::Night => episode.first as usize,
    }
}

/// A change that was picked out for being large is drawn towards nothing: what remains of it is one
/// less the inverse square of its standard errors.
fn picked(value: f64, error: f64) -> Shift {
    let z2 = (value / error).powi(2);
    Shift { value, error, believed: (1.0 - 1.0 / z2).max(0.0) }
}

/// The form of the scale of a measure.
#[derive(Debug, Clone, Copy)]
enum Form {
    Plain,
    Times { offset: f64 },
    Odds,
}

impl Form {
    fn of(scan: &Scan) -> Self {
        match scan.series.measure {
            Measure::Waste => Self::Times { offset: scan.series.offset },
            Measure::Lateness => Self::Odds,
            Measure::Use | Measure::Yield | Measure::Habit => Self::Plain,
        }
    }

    /// The ratio that a value of the scale is. With late tickets there are ticket times in it: then it
    /// is that of now, if anything is.
    fn ratio(self, value: f64, now: Option<f64>) -> f64 {
        match self {
            Self::Plain => value,
            Self::Times { offset } => (value.exp() - offset).max(0.0),
            Self::Odds => now.unwrap_or(0.0),
        }
    }

    /// A ratio as it would be without a change of the scale.
    fn without(self, now: f64, change: f64) -> f64 {
        match self {
            Self::Plain => now - change,
            Self::Times { offset } => ((now + offset) * (-change).exp() - offset).max(0.0),
            Self::Odds => odds(now, -change),
        }
    }
}

/// The logarithm of the odds of a share, which is neither nothing nor all.
fn log_odds(share: f64) -> f64 {
    let share = share.clamp(1e-4, 1.0 - 1e-4);
    (share / (1.0 - share)).ln()
}

/// A share whose odds are changed by a factor that is the exponential of this.
fn odds(share: f64, change: f64) -> f64 {
    let odds = share / (1.0 - share).max(1e-9) * change.exp();
    odds / (1.0 + odds)
}

struct Scale {
    /// The ratio of the measure before the change.
    before: f64,
    form: Form,
}

impl Scale {
    /// The change of the ratio that a change of the scale is.
    fn of(&self, change: f64) -> f64 {
        match self.form {
            Form::Plain => change,
            Form::Times { offset } => (self.before + offset) * change.exp_m1(),
            Form::Odds => odds(self.before, change) - self.before,
        }
    }
}
