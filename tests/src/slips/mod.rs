//! How many slips the checks catch, and how often they ask in vain: seeded slips on the nights of
//! an invented store.
//!
//! Each seed is a store of forty items over sixty nights of noise: overdispersed sales, portions with
//! heavy tails, unwritten waste, missed deliveries, things that nobody saw. Each night with enough
//! past is checked as it was counted, and once more with each kind of slip in it. All of it is
//! invented; the noise is common practice, no source.
//!
//! The limits and the method were chosen on seeds 1 to 10; what is reported is of other seeds.

mod chance;
mod kitchen;
mod nights;
mod outcome;
mod seeded;

use std::collections::BTreeMap;

use chrono::{DateTime, Utc};
use parings_core::calendar::BusinessDate;
use parings_core::catalog::{Catalog, Limits, Settings, Store};
use parings_core::checks::{Check, Given, ItemPast, PastUse, Treatment, as_read, night, triage};
use parings_core::ids::ItemId;
use parings_core::night::{Count, CountLine};
use parings_core::quantity::Tallied;
use parings_core::stats::Robust;
use parings_core::tally::{Counted, Day, DayFacts, ItemSpan, Opening, SpanNight, day, span};

use self::chance::Chance;
use self::kitchen::{Stocked, kitchen, store};
use self::nights::{Night, nights};
pub use self::outcome::{Caught, Outcome};
pub use self::seeded::Slip;
use self::seeded::{Slipped, sent_at, slipped};

/// Nights of a seed.
const NIGHTS: usize = 60;
/// Nights before the first that is checked.
const WARM: usize = 14;
/// Nights that the checks look back.
const BACK: usize = 28;

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
    let zone = past.catalog.stores[&store()].zone;
    for n in WARM..NIGHTS {
        let now = sent_at(&past.nights[n], &zone, &mut chance);
        clean(&past, n, now, outcome);
        for slip in Slip::ALL {
            let (night, before) = (&past.nights[n], &past.nights[n - 1]);
            let wrong = slipped(slip, night, before, (&past.items, &zone), &mut chance);
            if let Some(wrong) = wrong {
                seeded(&past, n, now, (slip, &wrong), outcome.slips.entry(slip).or_default());
            }
        }
    }
}

/// A count without a slip: what is asked about it is needless, unless a delivery is missing indeed.
fn clean(past: &Past, n: usize, now: DateTime<Utc>, outcome: &mut Outcome) {
    let Night { count, date, missed, .. } = &past.nights[n];
    let right = Slipped { count: count.clone(), date: *date, line: None, sent: None };
    outcome.clean += 1;
    for check in asked(past, n, &right, now) {
        if check.about.item().is_some_and(|item| missed.contains(item)) {
            outcome.right += 1;
        } else {
            outcome.needless += 1;
            *outcome.needless_by.entry(check.kind).or_default() += 1;
        }
    }
}

/// A count with a slip.
fn seeded(
    past: &Past,
    n: usize,
    now: DateTime<Utc>,
    (slip, wrong): (Slip, &Slipped),
    caught: &mut Caught,
) {
    if !is_material(past, n, wrong) {
        caught.immaterial += 1;
        return;
    }
    caught.material += 1;
    let checks = asked(past, n, wrong, wrong.sent.unwrap_or(now));
    let mut about = checks.iter().filter(|check| is_about(check, wrong, slip));
    caught.asked += u32::from(about.clone().next().is_some());
    caught.named += u32::from(about.clone().any(|check| slip.is_named(check.kind)));
    caught.offered += u32::from(about.any(|check| offers(past, n, wrong, check)));
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
    let before: Vec<(BusinessDate, Vec<CountLine>)> = past.nights[back]
        .iter()
        .rev()
        .map(|night| (night.date, night.count.lines.clone()))
        .collect();
    let items = past.spans.iter().map(|(item, spans)| {
        let ends = ends(past, n, item, &day);
        let relied = spans[..n - 1].iter().rev().filter(|span| span.doubts.is_empty());
        (item.clone(), ItemPast { ends, past: relied.take(BACK).map(PastUse::from).collect() })
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
