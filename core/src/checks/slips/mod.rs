//! Slips of the hand: the wrong unit, the wrong pack, the wrong place of the point, the pan weighed
//! with what is in it.
//!
//! One line at a time is read in another way. A reading is put to the person when the number as
//! typed lies too far from what is expected and the reading does not. Two witnesses say what is
//! expected of a line: the item's balance, less its other lines; and what usually stands on that
//! shelf.

mod readings;
#[cfg(test)]
mod tests;

use std::collections::BTreeMap;

use rust_decimal::Decimal;
use rust_decimal::prelude::ToPrimitive;

use self::readings::others;
pub(super) use self::readings::{Other, reread};
use super::expect::{Expected, ShelfKey, ShelfPast, amount, closing, shelf_key, shelves};
use super::{About, Check, CheckKind, Given, Reading, Treatment};
use crate::catalog::{Item, Limits};
use crate::ids::ItemId;
use crate::money::Money;
use crate::night::CountLine;
use crate::quantity::Base;

/// Most readings of one number, with the one as typed.
const READINGS: usize = 3;

/// The likely slips of a count, one of an item at most: of several lines and readings that would
/// explain it, the closest. Names what was typed and how else it may be read, never what is
/// expected.
pub fn slips(given: &Given<'_>) -> Vec<Check> {
    let shelves = shelves(given);
    let mut by_item: BTreeMap<&ItemId, Vec<&CountLine>> = BTreeMap::new();
    for line in &given.count.lines {
        by_item.entry(&line.item).or_default().push(line);
    }
    by_item.into_iter().filter_map(|(id, lines)| of_item(given, &shelves, id, &lines)).collect()
}

fn of_item(
    given: &Given<'_>,
    shelves: &BTreeMap<ShelfKey, ShelfPast>,
    id: &ItemId,
    lines: &[&CountLine],
) -> Option<Check> {
    let item = given.catalog.items.get(id)?;
    let amounts: Vec<f64> =
        lines.iter().map(|line| amount(given.catalog, line)).collect::<Option<_>>()?;
    let grain = grain(item, given.limits);
    let balance = given.items.get(id).and_then(|past| closing(past, given.limits, grain));
    let total: f64 = amounts.iter().sum();
    let apart = 2.0 * share(given.limits);
    let mut best: Option<(f64, &CountLine, f64, Vec<Other>)> = None;
    for (line, typed) in lines.iter().zip(&amounts) {
        let rest = total - typed;
        let on_shelf: f64 = lines
            .iter()
            .zip(&amounts)
            .filter(|(other, _)| shelf_key(other) == shelf_key(line))
            .map(|(_, amount)| amount)
            .sum();
        let past = shelves.get(&shelf_key(line));
        let witnesses = Witnesses {
            habit: past,
            balance: balance.map(|e| Expected { about: e.about - rest, ..e }),
            shelf: past
                .and_then(|past| past.expected(given.limits.history_nights, grain))
                .map(|e| Expected { about: e.about - (on_shelf - typed), ..e }),
        };
        let mut fitting: Vec<(f64, Other)> = others(given.catalog, item, line, apart)
            .into_iter()
            .filter_map(|other| Some((witnesses.fit(line, *typed, &other, given.limits)?, other)))
            .collect();
        fitting.sort_by(|(a, _), (b, _)| a.total_cmp(b));
        let Some((off, _)) = fitting.first() else { continue };
        let closer = best.as_ref().is_none_or(|(so_far, at, ..)| {
            off.total_cmp(so_far).then_with(|| order(line).cmp(&order(at))).is_lt()
        });
        if closer {
            let others = fitting.iter().map(|(_, other)| other.clone()).take(READINGS - 1);
            best = Some((*off, line, *typed, others.collect()));
        }
    }
    let (_, line, typed, others) = best?;
    Some(ask(given, id, item, (line, typed), others))
}

/// What lines of equal claim are told apart by, whatever order they came in.
fn order(line: &CountLine) -> (ShelfKey, Decimal) {
    (shelf_key(line), line.quantity.value())
}

fn share(limits: &Limits) -> f64 {
    limits.ratio_tolerance.decimal().to_f64().unwrap_or_default()
}

/// What the scale cannot tell apart, in base units of the item; nothing where it is not weighed.
pub(super) fn grain(item: &Item, limits: &Limits) -> f64 {
    let division = limits.scale_division.amount();
    let here = item.bridge.convert(division, item.base).and_then(|a| a.to_base(item.base));
    here.map_or(0.0, super::expect::number)
}

/// What is expected of one line, by whom.
struct Witnesses<'a> {
    balance: Option<Expected>,
    shelf: Option<Expected>,
    /// How the shelf was counted before.
    habit: Option<&'a ShelfPast>,
}

impl Witnesses<'_> {
    /// How far a reading is off, if it is likelier than what was typed: none when it is not.
    fn fit(&self, line: &CountLine, typed: f64, other: &Other, limits: &Limits) -> Option<f64> {
        let read = other.amount;
        let tolerance = |about: f64| match other.kind {
            // The excess is compared with the pan, not with what is in it.
            CheckKind::TareForgotten => (typed - read) * share(limits),
            _ => about.abs() * share(limits),
        };
        let near = |e: &Expected| (read - e.about).abs() <= tolerance(e.about);
        let fits = |e: &Expected, off: f64| off <= limits.fit_spreads.value() || near(e);
        // What departs from how the shelf is always counted is doubted at half the distance.
        let unusual = self.habit.is_some_and(|past| {
            past.departs(line, limits.history_nights) && !past.departs_as(line, other, limits)
        });
        let (far, nearer) = if unusual { (0.5, 1.0) } else { (1.0, 0.5) };
        let far = limits.spreads.value() * far;
        let (e, doubt) = match (self.balance, self.shelf) {
            (Some(e), _) if e.spread.is_some() => (e, e.off(typed)?),
            (None, Some(e)) => (e, e.off(typed)?),
            // No spread is known: only packs are far enough apart to go by the ratio alone.
            (Some(e), _) if other.kind == CheckKind::PackSlip && e.about > 0.0 => {
                let as_typed = (typed - e.about).abs() <= tolerance(e.about);
                return (near(&e) && !as_typed).then(|| (read - e.about).abs() / e.about);
            }
            _ => return None,
        };
        let off = e.off(read)?;
        // A reading that comes to about nothing would explain any line that should not be there.
        let shrinks = other.kind == CheckKind::DecimalSlip && read < typed;
        let fitting = fits(&e, off) || unusual && off < doubt / 2.0;
        if shrinks && read < e.spread? || !fitting || off >= doubt * nearer {
            return None;
        }
        let shelf = self.shelf.and_then(|e| Some((e.off(typed)?, e.off(read)?)));
        let both = shelf.is_some_and(|(typed, read)| read < typed && doubt.hypot(typed) > far);
        (doubt > far || both).then(|| shelf.map_or(off, |(_, on_shelf)| off.hypot(on_shelf)))
    }
}

fn ask(
    given: &Given<'_>,
    id: &ItemId,
    item: &Item,
    (line, typed): (&CountLine, f64),
    others: Vec<Other>,
) -> Check {
    let kind = others[0].kind;
    let about =
        About::Line { item: id.clone(), place: line.place.clone(), stage: line.stage.clone() };
    let offered: Vec<String> = std::iter::once(line.quantity.to_string())
        .chain(others.iter().map(|other| other.quantity.to_string()))
        .collect();
    let says = format!("{} in {}: {}?", item.title, place(given, line), offered.join(", or "));
    let mut check = Check::new(kind, about, says);
    check.stake = stake(given, id, (others[0].amount - typed).abs());
    if check.stake.is_some_and(|stake| stake < given.limits.least_stake) {
        check.treatment = Treatment::Flag;
    }
    let as_typed = Reading { quantity: line.quantity.clone(), says: "as typed".to_owned() };
    let read = |other: Other| Reading { quantity: other.quantity, says: other.says };
    check.readings = std::iter::once(as_typed).chain(others.into_iter().map(read)).collect();
    check
}

/// What people call the place of a line.
pub(super) fn place(given: &Given<'_>, line: &CountLine) -> String {
    let known = given.catalog.places.get(&line.place);
    known.map_or_else(|| line.place.to_string(), |place| place.title.clone())
}

/// What an amount of an item, as purchased in base units, costs; none without a price.
pub(super) fn stake(given: &Given<'_>, id: &ItemId, amount: f64) -> Option<Money> {
    let amount = Base::new(Decimal::try_from(amount).ok()?);
    given.catalog.unit_price(id)?.try_of(amount).ok()
}

/// The line that a reading of a slip makes of the line it is about.
pub fn as_read(line: &CountLine, kind: CheckKind, reading: &Reading) -> CountLine {
    reread(line, &reading.quantity, kind)
}
