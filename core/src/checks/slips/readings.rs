//! How else a number may be read.

use std::collections::BTreeSet;

use rust_decimal::Decimal;

use super::super::CheckKind;
use super::super::expect::amount;
use crate::catalog::{Catalog, Item, Typed, UnitName};
use crate::night::CountLine;
use crate::quantity::Unit;

/// Another reading of a line.
#[derive(Debug, Clone)]
pub(in crate::checks) struct Other {
    pub kind: CheckKind,
    pub quantity: Typed,
    pub says: String,
    /// What it comes to, as purchased in base units.
    pub amount: f64,
}

/// Units that are taken for one another: two faces of one scale or jug.
const TWINS: &[(Unit, Unit)] = &[
    (Unit::Kilogram, Unit::Pound),
    (Unit::Gram, Unit::Ounce),
    (Unit::Litre, Unit::Gallon),
    (Unit::Millilitre, Unit::FluidOunce),
];

/// Every other reading of a line that comes to a really different amount: nearer to it than `apart`
/// (a share) nobody could tell them apart.
pub(super) fn others(catalog: &Catalog, item: &Item, line: &CountLine, apart: f64) -> Vec<Other> {
    let Some(typed) = amount(catalog, line).filter(|typed| *typed > 0.0) else { return Vec::new() };
    let mut found: Vec<Other> = Vec::new();
    let mut add = |kind, quantity: Option<Typed>, says: String| {
        let Some(quantity) = quantity else { return };
        let read = reread(line, &quantity, kind);
        let Some(amount) = amount(catalog, &read) else { return };
        let ratio = amount / typed;
        let known = found.iter().any(|other: &Other| other.quantity == quantity);
        let alike = (1.0 - apart..=1.0 / (1.0 - apart)).contains(&ratio);
        // A pan is a difference, not a ratio: what a full one holds hides it.
        let told_apart = !alike || kind == CheckKind::TareForgotten && amount < typed;
        if !known && amount > 0.0 && told_apart {
            found.push(Other { kind, quantity, says, amount });
        }
    };
    let (value, unit) = (line.quantity.value(), line.quantity.unit());
    let in_unit = |unit: &UnitName| Typed::new(value, unit.clone()).ok();
    if let UnitName::Standard(unit) = unit {
        for (one, other) in TWINS {
            let twin = if unit == one {
                other
            } else if unit == other {
                one
            } else {
                continue;
            };
            let says = format!("the number is in {twin}");
            add(CheckKind::UnitSlip, in_unit(&UnitName::Standard(*twin)), says);
        }
    }
    for named in names(item) {
        if named != *unit {
            add(CheckKind::PackSlip, in_unit(&named), format!("the number is in {named}"));
        }
    }
    let counted = matches!(unit, UnitName::Pack(_) | UnitName::Standard(Unit::Each));
    for (times, says) in [
        (Decimal::TEN, "the point stands one place too far left"),
        (Decimal::ONE_HUNDRED, "the point stands two places too far left"),
        (Decimal::new(1, 1), "the point stands one place too far right"),
        (Decimal::new(1, 2), "the point stands two places too far right"),
    ] {
        let moved = (value * times).normalize();
        // Nobody counts a tenth of a piece; of a pack, halves and quarters.
        let whole = !counted || (moved * Decimal::from(4)).is_integer();
        let moved = Typed::new(moved, unit.clone()).ok().filter(|_| whole);
        add(CheckKind::DecimalSlip, moved, says.to_owned());
    }
    if line.pan.is_none() {
        for pan in &item.pans {
            let UnitName::Standard(unit) = unit else { break };
            let Ok(tare) = pan.tare.amount().in_unit(*unit) else { continue };
            let net = (value - tare).round_dp(Typed::DECIMALS).normalize();
            let net = Typed::new(net, UnitName::Standard(*unit)).ok();
            add(CheckKind::TareForgotten, net, format!("it was weighed with {}", pan.title));
        }
    }
    found
}

/// The line as another reading has it.
pub(in crate::checks) fn reread(line: &CountLine, quantity: &Typed, kind: CheckKind) -> CountLine {
    // What is a number of packs was not weighed, and what holds the pan's weight is net already.
    let counted = kind == CheckKind::PackSlip && matches!(quantity.unit(), UnitName::Pack(_));
    let pan = if counted { None } else { line.pan.clone() };
    CountLine { quantity: quantity.clone(), pan, ..line.clone() }
}

/// The item's packs, and the units that they hold and that its shelves are counted in.
fn names(item: &Item) -> BTreeSet<UnitName> {
    let packs = item.packs.iter().map(|pack| UnitName::Pack(pack.code.clone()));
    let held = item.packs.iter().map(|pack| pack.holds.unit().clone());
    let stated = item.shelves.iter().map(|shelf| shelf.unit.clone());
    packs.chain(held).chain(stated).collect()
}
