//! Nights of the invented store as they truly were, and as they were counted and entered.

use std::collections::BTreeMap;

use parings_core::calendar::BusinessDate;
use parings_core::catalog::{Typed, UnitName};
use parings_core::ids::{EntryId, ItemId};
use parings_core::night::{Count, CountLine, Entry, EntryBody, Outcome, Sale, TillBatch, When};
use parings_core::tally::DayFacts;
use rust_decimal::Decimal;

use super::chance::Chance;
use super::kitchen::{Lies, Stocked};

/// A night: what was entered and counted, and which items' deliveries nobody entered.
pub struct Night {
    pub date: BusinessDate,
    pub facts: DayFacts,
    pub count: Count,
    pub missed: Vec<ItemId>,
}

/// How busy a weekday is, Monday first.
const WEEK: [f64; 7] = [0.8, 0.8, 0.9, 1.0, 1.3, 1.45, 0.95];
/// How often a delivery is not entered, of all deliveries.
const MISSED: f64 = 0.01;
/// How often, of all items and nights, something happens that no entry says: a dropped case, a
/// wrong order, a theft.
const SURPRISE: f64 = 0.003;

/// How often what stands in a pan is weighed without it.
const NET: f64 = 0.02;

/// Runs the store for so many nights.
pub fn nights(items: &[Stocked], many: usize, chance: &mut Chance) -> Vec<Night> {
    let first = BusinessDate::new(2025, 3, 3).expect("a Monday");
    let mut stock: BTreeMap<&ItemId, f64> = BTreeMap::new();
    let mut ids = 0_u128;
    (0..many)
        .map(|n| {
            let mut night = Night {
                date: first.plus_days(n as i64),
                facts: DayFacts::default(),
                count: Count { complete: true, ..Count::default() },
                missed: Vec::new(),
            };
            let busy = WEEK[n % 7] * (1.0 + 0.08 * chance.normal());
            let mut sales = Vec::new();
            for item in items {
                let start = item.pack + 2.0 * item.sold * item.portion;
                let there = stock.entry(&item.id).or_insert(start);
                let mut entry = |body| {
                    ids += 1;
                    Entry { id: EntryId(uuid::Uuid::from_u128(ids)), body }
                };
                // Ordered up to three busy nights, in whole packs, when less than two are left.
                let usual = item.sold * item.portion;
                if *there < 2.0 * usual {
                    let packs = ((3.5 * usual - *there) / item.pack).ceil().max(1.0);
                    *there += packs * item.pack;
                    let body = EntryBody::Delivery {
                        item: item.id.clone(),
                        quantity: typed(packs, 0, item.pack_code),
                        lot: None,
                        paid: None,
                    };
                    if chance.happens(MISSED) {
                        night.missed.push(item.id.clone());
                    } else {
                        night.facts.entries.push(entry(body));
                    }
                }
                let units = chance.count(item.sold * busy, 0.1);
                let portions = 1.0 + item.bias + 0.025 * chance.heavy();
                *there -= f64::from(units) * item.portion * portions;
                if chance.happens(0.15) {
                    let wasted = usual * chance.between(0.005, 0.04);
                    *there -= wasted;
                    // A third is never written down.
                    if chance.happens(0.67) && wasted / item.loose_unit > 0.01 {
                        night.facts.entries.push(entry(waste(item, wasted)));
                    }
                }
                if chance.happens(SURPRISE) {
                    *there -= (usual * chance.between(0.1, 0.5)).min(item.pack);
                }
                *there = there.max(0.0);
                sales.push(sale(item, units));
                night.count.lines.extend(count(item, *there, chance));
            }
            night.facts.till.push(TillBatch { sales, tickets: Vec::new() });
            night.facts.count = Some(night.count.clone());
            night
        })
        .collect()
}

fn sale(item: &Stocked, units: u32) -> Sale {
    Sale {
        line: None,
        code: item.id.to_string(),
        units,
        net: parings_core::money::Money::from_ten_thousandths(i64::from(units) * 30_000),
        when: When::Unknown,
        channel: None,
        additions: Vec::new(),
        leave_outs: Vec::new(),
        outcome: Outcome::Sold,
    }
}

fn waste(item: &Stocked, wasted: f64) -> EntryBody {
    EntryBody::Waste {
        item: item.id.clone(),
        stage: None,
        reason: "expired".parse().expect("a code"),
        quantity: typed(wasted / item.loose_unit, item.places.max(2), &item.loose),
        pan: None,
        daypart: None,
    }
}

/// What somebody counts of an amount as purchased: weights off by one per cent and read to the
/// scale's division, one in a hundred piles of packs off by one.
fn count(item: &Stocked, there: f64, chance: &mut Chance) -> Vec<CountLine> {
    let mut lines = Vec::new();
    let mut loose = there;
    if !matches!(item.lies, Lies::InPan | Lies::OnePlace) {
        // One pack is always opened, so the reserve is the whole packs less some of them.
        let whole = (there / item.pack).floor();
        let opened = chance.between(0.0, 1.5).floor().min(whole);
        let packs = whole - opened;
        loose = there - packs * item.pack;
        let slip = if chance.happens(0.01) { 1.0 } else { 0.0 };
        lines.push(line(
            item,
            "dry-store",
            false,
            typed((packs - slip).max(0.0), 0, item.pack_code),
        ));
    }
    let error = if item.loose == "each" { 0.004 } else { 0.01 };
    let net = loose * item.yielded * (1.0 + error * chance.normal());
    // Now and then it is weighed out of its pan.
    let tare = item.tare.filter(|_| !chance.happens(NET));
    let value = division((net + tare.unwrap_or(0.0)) / item.loose_unit, item);
    let weighed = line(item, "cold-room", true, typed(value, item.places, &item.loose));
    lines.push(CountLine { pan: weighed.pan.filter(|_| tare.is_some()), ..weighed });
    lines
}

/// What the scale shows: grams by five, anything else by its last decimal.
fn division(value: f64, item: &Stocked) -> f64 {
    if item.loose == "g" { (value / 5.0).round() * 5.0 } else { value }
}

fn line(item: &Stocked, place: &str, loose: bool, quantity: Typed) -> CountLine {
    CountLine {
        item: item.id.clone(),
        place: place.parse().expect("a code"),
        stage: item.stage.filter(|_| loose).map(|stage| stage.parse().expect("a code")),
        quantity,
        pan: item.tare.filter(|_| loose).map(|_| "pan".parse().expect("a code")),
        label: None,
        discard_at: None,
    }
}

/// A number as somebody types it.
pub fn typed(value: f64, places: u32, unit: &str) -> Typed {
    let value = Decimal::try_from(value.max(0.0)).expect("a number").round_dp(places).normalize();
    Typed::new(value, unit.parse::<UnitName>().expect("a unit")).expect("an amount")
}
