//! How many slips the checks catch, and how often they ask in vain: seeded slips on the nights of
//! an invented store.
//!
//! Each seed is a store of forty items over sixty nights of noise: overdispersed sales, portions with
//! heavy tails, unwritten waste, missed deliveries, things that nobody saw. Each night with enough
//! past is checked as it was counted, and once more with each kind of slip in it. All of it is
//! invented; the noise is common practice, no source.

mod chance;
mod kitchen;
mod nights;
mod seeded;

use std::collections::BTreeMap;
use std::fmt;

use parings_core::calendar::BusinessDate;
use parings_core::catalog::{Catalog, Limits, Settings, Store};
use parings_core::checks::{Check, Given, ItemPast, Kind, Treatment, as_read, night, triage};
use parings_core::ids::ItemId;
use parings_core::night::{Count, CountLine};
use parings_core::quantity::Tallied;
use parings_core::stats::Robust;
use parings_core::tally::{Counted, Day, DayFacts, ItemSpan, Opening, SpanNight, day, span};

use self::chance::Chance;
use self::kitchen::{Stocked, kitchen, store};
use self::nights::{Night, nights};
pub use self::seeded::Slip;
use self::seeded::{Slipped, sent_at, slipped};

/// Nights of a seed.
const NIGHTS: usize = 60;
/// Nights before the first that is checked.
const WARM: usize = 14;
/// Nights that the checks look back.
const BACK: usize = 28;

/// What became of the slips of one kind.
#[derive(Debug, Clone, Copy, Default)]
pub struct Caught {
    /// Seeded, and of some consequence.
    pub material: u32,
    /// Of them asked about, or refused.
    pub asked: u32,
    /// Of them asked about by the right name.
    pub named: u32,
    /// Of them asked with the right number among the readings.
    pub offered: u32,
    /// Seeded, and of no consequence: they move less than the item's own noise, or less money than
    /// is worth a question.
    pub immaterial: u32,
}

/// What came of all slips, and of the counts without any.
#[derive(Debug, Clone, Default)]
pub struct Outcome {
    /// By kind of slip.
    pub slips: BTreeMap<Slip, Caught>,
    /// Counts without a slip.
    pub clean: u32,
    /// Questions about them that led to nothing.
    pub needless: u32,
    /// Questions about them that were right: a delivery was indeed missing.
    pub right: u32,
    /// The needless ones, by kind.
    pub needless_by: BTreeMap<Kind, u32>,
}

impl Outcome {
    /// Needless questions a clean count.
    pub fn needless_a_count(&self) -> f64 {
        f64::from(self.needless) / f64::from(self.clean.max(1))
    }

    /// The share of material slips of a kind that were caught.
    pub fn share(&self, slip: Slip) -> f64 {
        let caught = self.slips.get(&slip).copied().unwrap_or_default();
        f64::from(caught.asked) / f64::from(caught.material.max(1))
    }

    /// The share of all material slips that were caught.
    pub fn share_of_all(&self) -> f64 {
        let sum = |of: fn(&Caught) -> u32| f64::from(self.slips.values().map(of).sum::<u32>());
        sum(|c| c.asked) / sum(|c| c.material).max(1.0)
    }
}

impl fmt::Display for Outcome {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        writeln!(
            f,
            "| slip | material | caught | | rightly named | right number offered | immaterial |"
        )?;
        writeln!(f, "|---|---:|---:|---:|---:|---:|---:|")?;
        for (slip, c) in &self.slips {
            let percent = 100.0 * self.share(*slip);
            let (word, Caught { material, asked, named, offered, immaterial }) = (slip.word(), *c);
            writeln!(
                f,
                "| {word} | {material} | {asked} | {percent:.1} % | {named} | {offered} | {immaterial} |"
            )?;
        }
        let Self { clean, needless, right, .. } = self;
        write!(
            f,
            "\n{clean} clean counts: {needless} needless questions, {:.3} a count; {right} more \
             about deliveries that were indeed missing.",
            self.needless_a_count()
        )
    }
}

/// A store's nights with what they add up to.
struct Past {
    catalog: Catalog,
    settings: Settings,
    items: Vec<Stocked>,
    nights: Vec<Night>,
    days: Vec<Day>,
    /// By item, the span that ends with each night but the first.
    spans: BTreeMap<ItemId, Vec<ItemSpan>>,
    /// By item, how far its balance is off on a usual night.
    noise: BTreeMap<ItemId, f64>,
}

/// Runs the seeds and adds up what came of them.
pub fn run(seeds: impl IntoIterator<Item = u64>) -> Outcome {
    let mut outcome = Outcome::default();
    for seed in seeds {
        one_seed(seed, &mut outcome);
    }
    outcome
}

fn one_seed(seed: u64, outcome: &mut Outcome) {
    let mut chance = Chance::new(seed);
    let past = past(&mut chance);
    for n in WARM..NIGHTS {
        let now = sent_at(&past.nights[n], &past.catalog.stores[&store()].zone, &mut chance);
        let clean =
            Slipped { count: past.nights[n].count.clone(), date: past.nights[n].date, line: None };
        let asked = asked(&past, n, &clean, now);
        outcome.clean += 1;
        for check in asked {
            let missing = |item: &ItemId| past.nights[n].missed.contains(item);
            if check.about.item().is_some_and(missing) {
                outcome.right += 1;
            } else {
                outcome.needless += 1;
                *outcome.needless_by.entry(check.kind).or_default() += 1;
            }
        }
        for slip in Slip::ALL {
            let wrong =
                slipped(slip, &past.nights[n], &past.nights[n - 1], &past.items, &mut chance);
            let Some(wrong) = wrong else { continue };
            let caught = outcome.slips.entry(slip).or_default();
            if !is_material(&past, n, &wrong) {
                caught.immaterial += 1;
                continue;
            }
            caught.material += 1;
            let checks = self::asked(&past, n, &wrong, now);
            let mut about = checks.iter().filter(|check| is_about(check, &wrong, slip));
            caught.asked += u32::from(about.clone().next().is_some());
            caught.named += u32::from(about.clone().any(|check| slip.is_named(check.kind)));
            caught.offered += u32::from(about.any(|check| offers(&past, n, &wrong, check)));
        }
    }
}

/// Whether a question is about what went wrong: the line's item, or the night.
fn is_about(check: &Check, wrong: &Slipped, slip: Slip) -> bool {
    match wrong.line {
        Some(at) => check.about.item() == Some(&wrong.count.lines[at].item),
        None => slip.is_named(check.kind),
    }
}

/// Whether a question offers about the number that was right.
fn offers(past: &Past, n: usize, wrong: &Slipped, check: &Check) -> bool {
    let Some(at) = wrong.line else { return false };
    let amount = |line: &CountLine| f64::try_from(line.amount(&past.catalog).ok()?.value()).ok();
    let Some(right) = amount(&past.nights[n].count.lines[at]) else { return false };
    check.readings.iter().any(|reading| {
        let read = amount(&as_read(&wrong.count.lines[at], check.kind, reading));
        read.is_some_and(|read| (read - right).abs() <= 0.02 * right)
    })
}

/// A slip of a line matters when it moves more than four times the item's own noise, and money
/// worth a question. Copied counts and wrong dates always matter.
fn is_material(past: &Past, n: usize, wrong: &Slipped) -> bool {
    let Some(at) = wrong.line else { return true };
    let amount = |count: &Count| count.lines[at].amount(&past.catalog).ok();
    let (Some(right), Some(typed)) = (amount(&past.nights[n].count), amount(&wrong.count)) else {
        return true;
    };
    let item = &wrong.count.lines[at].item;
    let moved = (typed - right).value().abs();
    let money =
        past.catalog.unit_price(item).map(|price| price.of((typed - right).max(right - typed)));
    f64::try_from(moved).unwrap_or(f64::MAX) > 4.0 * past.noise[item]
        && money.is_none_or(|money| money >= Limits::default().least_stake)
}

/// What is asked or refused about a count.
fn asked(past: &Past, n: usize, sent: &Slipped, now: chrono::DateTime<chrono::Utc>) -> Vec<Check> {
    let id = store();
    let at = &past.catalog.stores[&id];
    // What cannot be is refused before anything is added up.
    let sound = sent.count.lines.iter().all(|line| line.amount(&past.catalog).is_ok());
    let count = if sound { &sent.count } else { &past.nights[n].count };
    let facts = DayFacts { count: Some(count.clone()), ..past.nights[n].facts.clone() };
    let day = tallied(past, &facts, at, past.nights[n].date);
    let back = n.saturating_sub(BACK)..n;
    let before: Vec<(BusinessDate, Count)> =
        past.nights[back].iter().rev().map(|night| (night.date, night.count.clone())).collect();
    let items = past.spans.iter().map(|(item, spans)| {
        let ends = ends(past, n, item, &day);
        let relied = spans[..n - 1].iter().rev().filter(|span| span.doubts.is_empty());
        (item.clone(), ItemPast { ends, past: relied.take(BACK).cloned().collect() })
    });
    let given = Given {
        items: items.collect(),
        before: &before,
        open_days: Some(400),
        ..Given::new(
            (&past.catalog, &past.settings.limits),
            (&id, at),
            sent.date,
            now,
            &sent.count,
            (&facts, &day),
        )
    };
    let divided = triage(night(&given), past.settings.limits.confirmations as usize);
    let refused = |check: &Check| check.treatment == Treatment::Reject;
    divided.asked.into_iter().chain(divided.said.into_iter().filter(refused)).collect()
}

fn tallied(past: &Past, facts: &DayFacts, at: &Store, date: BusinessDate) -> Day {
    day(facts, &past.catalog, &past.settings, &store(), at, date).expect("facts that fit")
}

/// The span of an item that ends with a night, under a day that may not be the one on record.
fn ends(past: &Past, n: usize, item: &ItemId, day: &Day) -> Option<ItemSpan> {
    let count = |day: &Day| -> Option<Counted> { day.items.get(item)?.count };
    let opening = Opening { on: past.nights[n - 1].date, count: count(&past.days[n - 1])? };
    let within = SpanNight {
        open: true,
        sales_source: day.night.sales_source,
        sales: day.night.sales,
        short: day.night.short,
        item: day.items.get(item),
    };
    Some(span(
        opening,
        count(day)?,
        &[within],
        past.catalog.unit_price(item),
        &past.settings.limits,
    ))
}

fn past(chance: &mut Chance) -> Past {
    let (catalog, items) = kitchen(chance);
    let nights = nights(&items, NIGHTS, chance);
    let settings = catalog.settings.clone().expect("settings");
    let mut past = Past {
        catalog,
        settings,
        items,
        nights,
        days: Vec::new(),
        spans: BTreeMap::new(),
        noise: BTreeMap::new(),
    };
    let at = past.catalog.stores[&store()].clone();
    past.days = past.nights.iter().map(|n| tallied(&past, &n.facts, &at, n.date)).collect();
    for item in &past.items {
        let spans: Vec<ItemSpan> =
            (1..NIGHTS).filter_map(|n| ends(&past, n, &item.id, &past.days[n])).collect();
        let off: Vec<f64> = spans.iter().filter_map(ItemSpan::variance).map(number).collect();
        let noise = Robust::of(&off).expect("nights").spread().value();
        past.noise.insert(item.id.clone(), noise);
        past.spans.insert(item.id.clone(), spans);
    }
    past
}

fn number(amount: Tallied) -> f64 {
    amount.thousandths() as f64 / 1000.0
}
