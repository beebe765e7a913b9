//! The same again: a count sent twice, copied from the one before, rounded, a pan counted twice.

use std::collections::BTreeMap;

use chrono::{Datelike, NaiveDate, TimeDelta};
use rust_decimal::Decimal;

use super::expect::{ShelfKey, amount, shelf_key, tallied};
use super::slips::stake;
use super::{About, Check, CheckKind, Given};
use crate::calendar::BusinessDate;
use crate::catalog::{Catalog, Limits, UnitName};
use crate::ids::ItemId;
use crate::money::Money;
use crate::night::CountLine;
use crate::quantity::{Amount, Dimension, Unit};

/// The places that a copied count is asked to count again.
const RECOUNTS: usize = 3;

/// What in a count is the same as something that should differ.
pub fn copies(given: &Given<'_>) -> Vec<Check> {
    let mut found = pans_counted_twice(given);
    found.extend(same_content(given));
    found.extend(copied_count(given));
    found.extend(last_month(given));
    found
}

/// The same lines were sent a moment ago under another id, for this date or another.
fn same_content(given: &Given<'_>) -> Option<Check> {
    let since = TimeDelta::from(given.limits.same_content_minutes);
    let mine = sorted(&given.count.lines);
    let same = given.sent.iter().find(|sent| {
        (given.now - sent.at).abs() <= since && !mine.is_empty() && sorted(&sent.lines) == mine
    })?;
    let minutes = (given.now - same.at).num_minutes();
    let says = format!(
        "the same lines came {minutes} minutes ago for {}: is this another count?",
        same.date
    );
    Some(Check::new(CheckKind::SameContent, About::Night, says))
}

fn sorted(lines: &[CountLine]) -> Vec<(ShelfKey, Decimal, String)> {
    let line = |l: &CountLine| {
        let of = format!("{} {:?}", l.quantity.unit(), l.pan);
        (shelf_key(l), l.quantity.value().normalize(), of)
    };
    let mut lines: Vec<_> = lines.iter().map(line).collect();
    lines.sort();
    lines
}

/// Too many weights of items that move are what they were at the count before.
fn copied_count(given: &Given<'_>) -> Option<Check> {
    let (date, before) = given.before.first()?;
    let (now, then) = (weights(given, &given.count.lines), weights(given, before));
    let moving: Vec<(&ItemId, bool)> = now
        .iter()
        .filter(|(item, lines)| moves(given, item) && lines.values().any(|w| !w.is_zero()))
        .filter_map(|(item, lines)| Some((*item, lines == then.get(item)?)))
        .collect();
    let same: Vec<&ItemId> = moving.iter().filter(|(_, same)| *same).map(|(id, _)| *id).collect();
    let share = Decimal::from(same.len()).checked_div(Decimal::from(moving.len()))?;
    if moving.len() < given.limits.copied_items as usize
        || share < given.limits.copied_share.decimal()
    {
        return None;
    }
    let says = format!(
        "{} of {} weights that change every night are what they were on {date}: \
         please weigh these {RECOUNTS} again",
        same.len(),
        moving.len()
    );
    let mut check = Check::new(CheckKind::CopiedCount, About::Night, says);
    let mut by_money: Vec<(Option<Money>, &ItemId)> =
        same.into_iter().map(|id| (stake(given, id, movement(given, id)), id)).collect();
    by_money.sort_by(|a, b| b.0.cmp(&a.0).then_with(|| a.1.cmp(b.1)));
    check.doubtful = by_money.iter().map(|(_, id)| (*id).clone()).collect();
    check.stake = by_money.iter().map(|(stake, _)| *stake).sum();
    let again = by_money.iter().take(RECOUNTS);
    check.recount = again.map(|(_, id)| About::Item { item: (*id).clone() }).collect();
    Some(check)
}

/// The weights of lines by item and shelf, as typed, in whole divisions of the scale. Lines
/// counted in packs or pieces are not among them.
fn weights<'a>(
    given: &Given<'_>,
    lines: &'a [CountLine],
) -> BTreeMap<&'a ItemId, BTreeMap<ShelfKey, Decimal>> {
    let division = given.limits.scale_division.amount();
    let mut all: BTreeMap<&ItemId, BTreeMap<ShelfKey, Decimal>> = BTreeMap::new();
    for line in lines {
        if let Some(weight) = weight(line) {
            let divisions = (weight.base() / division.base()).round();
            let lines = all.entry(&line.item).or_default();
            *lines.entry(shelf_key(line)).or_default() += divisions;
        }
    }
    all
}

/// What was weighed or measured out, as typed; none for packs and pieces.
fn weight(line: &CountLine) -> Option<Amount> {
    match line.quantity.unit() {
        UnitName::Standard(unit) if unit.dimension() != Dimension::Count => {
            Some(Amount::new(unit.dimension(), line.quantity.value() * unit.factor()))
        }
        _ => None,
    }
}

/// How much of an item should have been used since the count before, in base units.
fn movement(given: &Given<'_>, item: &ItemId) -> f64 {
    let Some(past) = given.items.get(item) else { return 0.0 };
    let due = past.ends.as_ref().and_then(|span| span.due());
    let usual = || past.past.iter().find_map(|span| span.due());
    due.or_else(usual).map_or(0.0, tallied)
}

/// Whether an item moves by more than the scale could miss.
fn moves(given: &Given<'_>, item: &ItemId) -> bool {
    let known = given.catalog.items.get(item);
    let grain = known.map_or(0.0, |known| super::slips::grain(known, given.limits));
    movement(given, item) > grain
}

/// One pan, by what is written on it, in two lines of a count.
fn pans_counted_twice(given: &Given<'_>) -> Vec<Check> {
    let mut by_label: BTreeMap<String, Vec<&CountLine>> = BTreeMap::new();
    for line in &given.count.lines {
        let label = line.label.as_deref().map(str::trim).filter(|label| !label.is_empty());
        if let Some(label) = label {
            by_label.entry(label.to_lowercase()).or_default().push(line);
        }
    }
    let twice = by_label.into_iter().filter(|(_, lines)| lines.len() > 1);
    twice.map(|(label, lines)| pan_counted_twice(given, &label, lines)).collect()
}

fn pan_counted_twice(given: &Given<'_>, label: &str, mut lines: Vec<&CountLine>) -> Check {
    lines.sort_by_key(|line| (shelf_key(line), line.quantity.value()));
    let about = |line: &CountLine| About::Line {
        item: line.item.clone(),
        place: line.place.clone(),
        stage: line.stage.clone(),
    };
    let places: Vec<_> = lines.iter().map(|line| super::slips::place(given, line)).collect();
    let says = format!("pan {label} is counted in {}: where is it?", places.join(" and in "));
    let mut check = Check::new(CheckKind::PanCountedTwice, about(lines[0]), says);
    let each =
        lines.iter().filter_map(|line| stake(given, &line.item, amount(given.catalog, line)?));
    check.stake = each.min();
    check.recount = lines.iter().map(|line| about(line)).collect();
    check.recount.dedup();
    check.doubtful = lines.iter().map(|line| line.item.clone()).collect();
    check.doubtful.dedup();
    check
}

/// With the first count of a month, the habit of the month before is told.
fn last_month(given: &Given<'_>) -> Option<Check> {
    let month = |date: BusinessDate| {
        let date = NaiveDate::from(date);
        (date.year(), date.month())
    };
    let last = month(given.before.first()?.0);
    if last == month(given.date) {
        return None;
    }
    let counts = given.before.iter().filter(|(date, _)| month(*date) == last);
    rounding_habit(given.catalog, counts.flat_map(|(_, lines)| lines), given.limits)
}

/// Whether the weights of the lines of some counts end in 0 or 5 of the scale's own division too often: by
/// chance every fifth would. Packs and pieces are exempt, and so is what was typed in units that
/// the scale's division is not of.
pub fn rounding_habit<'a>(
    catalog: &Catalog,
    lines: impl IntoIterator<Item = &'a CountLine>,
    limits: &Limits,
) -> Option<Check> {
    let division = limits.scale_division;
    let customary = |unit: Unit| matches!(unit, Unit::Pound | Unit::Ounce);
    let (mut all, mut round) = (0_u32, 0_u32);
    for line in lines {
        let UnitName::Standard(unit) = line.quantity.unit() else { continue };
        let weighed = unit.dimension() == Dimension::Mass
            && customary(*unit) == customary(division.unit())
            && catalog.items.contains_key(&line.item);
        let Some(weight) = weight(line).filter(|w| weighed && !w.base().is_zero()) else {
            continue;
        };
        let divisions = (weight.base() / division.amount().base()).round();
        all += 1;
        round += u32::from((divisions % Decimal::from(5)).is_zero());
    }
    let share = Decimal::from(round).checked_div(Decimal::from(all))?;
    (all >= limits.rounding_lines && share > limits.rounding_share.decimal()).then(|| {
        let says = format!(
            "{round} of {all} weights end in 0 or 5 of the scale's {division}: \
             please show us how they are read"
        );
        Check::new(CheckKind::RoundingHabit, About::Night, says)
    })
}
