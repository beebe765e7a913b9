//! What a number should about be: from the item's balance, and from what usually stands there.

use std::collections::BTreeMap;

use rust_decimal::prelude::ToPrimitive;

use super::slips::{Other, reread};
use super::{CheckKind, Given, ItemPast, PastUse};
use crate::catalog::{Catalog, Limits};
use crate::ids::{ItemId, PanId, PlaceId, StageId};
use crate::night::CountLine;
use crate::quantity::{Base, Tallied};
use crate::stats::Robust;
use crate::tally::ItemSpan;

/// What something should about be, as purchased in base units, and the spread of that.
#[derive(Debug, Clone, Copy)]
pub(super) struct Expected {
    pub about: f64,
    /// None while too little is on record.
    pub spread: Option<f64>,
}

impl Expected {
    /// How many spreads something is off.
    pub fn off(&self, amount: f64) -> Option<f64> {
        self.spread.map(|spread| (amount - self.about).abs() / spread)
    }
}

pub(super) fn number(base: Base) -> f64 {
    base.value().to_f64().unwrap_or(f64::MAX)
}

pub(super) fn tallied(amount: Tallied) -> f64 {
    amount.thousandths() as f64 / 1000.0
}

fn nights(nights: u64) -> f64 {
    nights.max(1) as f64
}

/// What was there or came, less what left otherwise than by use: used and closing together.
pub(super) fn handled(span: &ItemSpan) -> Tallied {
    span.used + span.closing.closing
}

/// What should stand there of an item in the end: opening + net receipts − expected use − what is
/// usually used beyond that (the median over the nights relied on). While sales are unknown, the
/// median use of a night stands for expected use. The spread is that of the nights relied on, never
/// below what the opening count may be off, `grain` at least.
pub(super) fn closing(past: &ItemPast, limits: &Limits, grain: f64) -> Option<Expected> {
    let span = past.ends.as_ref()?;
    let known = span.due().is_some();
    let figure = |past: &PastUse| if known { past.variance() } else { Some(past.used) };
    let before: Vec<(f64, f64)> =
        past.past.iter().filter_map(|s| Some((tallied(figure(s)?), nights(s.nights)))).collect();
    let due = span.due().map(tallied);
    let stock = tallied(handled(span));
    if before.len() < limits.history_nights as usize {
        return due.map(|due| Expected { about: stock - due, spread: None });
    }
    let a_night: Vec<f64> = before.iter().map(|(figure, nights)| figure / nights).collect();
    let usual = Robust::of(&a_night).ok()?.centre();
    let rest: Vec<f64> =
        before.iter().map(|(figure, nights)| (figure - usual * nights) / nights.sqrt()).collect();
    let spread = Robust::of(&rest).ok()?.spread().value() * nights(span.nights).sqrt();
    let spread = spread.max(grain).max(if spread > 0.0 { 0.0 } else { tallied(span.opening.sd) });
    let about = stock - due.unwrap_or(0.0) - usual * nights(span.nights);
    Some(Expected { about, spread: Some(spread.max(f64::MIN_POSITIVE)) })
}

/// An item at one stage in one place.
pub(super) type ShelfKey = (ItemId, PlaceId, Option<StageId>);

pub(super) fn shelf_key(line: &CountLine) -> ShelfKey {
    (line.item.clone(), line.place.clone(), line.stage.clone())
}

/// What was counted on a shelf before.
#[derive(Debug, Default)]
pub(super) struct ShelfPast {
    /// What stood there, as purchased, a count each.
    pub amounts: Vec<f64>,
    /// The units it was typed in, and how often.
    pub units: BTreeMap<String, usize>,
    /// The pans it was weighed in, and how often; none for no pan.
    pub pans: BTreeMap<Option<PanId>, usize>,
}

impl ShelfPast {
    /// What should about stand there, if so many counts say so.
    pub fn expected(&self, least: u32, grain: f64) -> Option<Expected> {
        if self.amounts.len() < least as usize {
            return None;
        }
        let usual = Robust::of(&self.amounts).ok()?;
        let spread = usual.spread().value();
        (spread > 0.0).then(|| Expected { about: usual.centre(), spread: Some(spread.max(grain)) })
    }
}

impl ShelfPast {
    /// Whether a line is counted in another unit than ever before on this shelf, or without the pan
    /// that is nearly always named; never while too little is on record.
    pub fn departs(&self, line: &CountLine, least: u32) -> bool {
        let all: usize = self.units.values().sum();
        let unit = line.quantity.unit().to_string();
        all >= least as usize
            && (!self.units.contains_key(&unit) || line.pan.is_none() && self.unnamed() * 5 <= all)
    }

    /// Whether another reading of the line departs from the shelf's habit as well.
    pub fn departs_as(&self, line: &CountLine, other: &Other, limits: &Limits) -> bool {
        if other.kind == CheckKind::TareForgotten {
            return line.pan.is_some();
        }
        self.departs(&reread(line, &other.quantity, other.kind), limits.history_nights)
    }

    /// How often no pan was named.
    fn unnamed(&self) -> usize {
        self.pans.get(&None).copied().unwrap_or_default()
    }
}

/// What the counts before say of each shelf.
pub(super) fn shelves(given: &Given<'_>) -> BTreeMap<ShelfKey, ShelfPast> {
    let mut all: BTreeMap<ShelfKey, ShelfPast> = BTreeMap::new();
    for (_, lines) in given.before {
        let mut sums: BTreeMap<ShelfKey, f64> = BTreeMap::new();
        for line in lines {
            let Some(amount) = amount(given.catalog, line) else { continue };
            *sums.entry(shelf_key(line)).or_default() += amount;
            let past = all.entry(shelf_key(line)).or_default();
            *past.units.entry(line.quantity.unit().to_string()).or_default() += 1;
            *past.pans.entry(line.pan.clone()).or_default() += 1;
        }
        for (key, sum) in sums {
            all.entry(key).or_default().amounts.push(sum);
        }
    }
    all
}

/// The amount of a line as purchased; none where it cannot be understood.
pub(super) fn amount(catalog: &Catalog, line: &CountLine) -> Option<f64> {
    line.amount(catalog).ok().map(number)
}
