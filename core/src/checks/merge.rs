//! Two people who counted at once.

use std::collections::BTreeMap;

use rust_decimal::Decimal;

use super::expect::{ShelfKey, shelf_key};
use super::{About, Check, CheckKind, Reading};
use crate::catalog::{Catalog, Typed, UnitName};
use crate::ids::{ItemId, PlaceId};
use crate::night::{Count, CountLine};
use crate::quantity::Base;

/// Parts of one count, put together.
#[derive(Debug, Clone, PartialEq)]
pub struct Merged {
    /// The count: each line from whoever counted it; where they differ, the first part's.
    pub count: Count,
    /// Where they differ: both amounts as readings, one to be chosen or counted again.
    pub differ: Vec<Check>,
}

/// Puts together what several people counted of one night, place by place. A line that two have the
/// same is one line; a line that two have differently is asked about. The count is complete when a
/// part says so.
///
/// ```
/// use parings_core::catalog::{Catalog, Kind};
/// use parings_core::checks::merge;
/// use parings_core::night::Count;
/// let mut catalog = Catalog::default();
/// let salt = r#"{"title":"Salt","group":"food","base":"mass","rhythm":{"every":"night"},
///   "shelves":[{"place":"dry","unit":"kg"},{"place":"line","unit":"kg"}]}"#;
/// let salt = Kind::Item.read(&mut serde_json::Deserializer::from_str(salt)).unwrap();
/// catalog.put("salt", salt).unwrap();
/// let part = |dry: &str, line: Option<&str>| -> Count {
///     let counted = |place: &str, kg: &str| serde_json::json!({
///         "item": "salt", "place": place, "quantity": { "value": kg, "unit": "kg" } });
///     let mut lines = vec![counted("dry", dry)];
///     lines.extend(line.map(|kg| counted("line", kg)));
///     serde_json::from_value(serde_json::json!({ "complete": false, "lines": lines })).unwrap()
/// };
/// let both = merge(&catalog, &[part("9", None), part("8", Some("1.5"))]);
/// assert_eq!(both.count.lines.len(), 2);
/// let amounts: Vec<_> = both.differ[0].readings.iter().map(|r| r.quantity.to_string()).collect();
/// assert_eq!(amounts, ["9 kg", "8 kg"]);
/// ```
pub fn merge(catalog: &Catalog, parts: &[Count]) -> Merged {
    let Some(first) = parts.first() else {
        return Merged { count: Count::default(), differ: Vec::new() };
    };
    let mut count = Count { lines: Vec::new(), ..first.clone() };
    for part in &parts[1..] {
        count.complete |= part.complete;
        count.started_at = count.started_at.into_iter().chain(part.started_at).min();
        count.net_sales = count.net_sales.or(part.net_sales);
        for name in &part.counted_by {
            if !count.counted_by.contains(name) {
                count.counted_by.push(name.clone());
            }
        }
        if count.units_sold.is_empty() {
            count.units_sold.clone_from(&part.units_sold);
        }
    }
    let mut differ = Vec::new();
    for (key, counted) in by_shelf(parts) {
        let (kept, rest) = counted.split_first().expect("somebody counted it");
        let others: Vec<_> = rest.iter().filter(|lines| !same(catalog, kept, lines)).collect();
        if !others.is_empty() {
            let all: Vec<_> = std::iter::once(kept).chain(others).collect();
            differ.extend(question(catalog, &key, &all));
        }
        count.lines.extend(kept.iter().map(|line| (*line).clone()));
    }
    Merged { count, differ }
}

/// For each shelf, the lines of each part that has any.
fn by_shelf(parts: &[Count]) -> BTreeMap<ShelfKey, Vec<Vec<&CountLine>>> {
    let mut all: BTreeMap<ShelfKey, Vec<Vec<&CountLine>>> = BTreeMap::new();
    for part in parts {
        let mut own: BTreeMap<ShelfKey, Vec<&CountLine>> = BTreeMap::new();
        for line in &part.lines {
            own.entry(shelf_key(line)).or_default().push(line);
        }
        for (key, lines) in own {
            all.entry(key).or_default().push(lines);
        }
    }
    all
}

fn amount(catalog: &Catalog, lines: &[&CountLine]) -> Option<Base> {
    lines.iter().try_fold(Base::ZERO, |sum, line| Some(sum + line.amount(catalog).ok()?))
}

fn same(catalog: &Catalog, one: &[&CountLine], other: &[&CountLine]) -> bool {
    amount(catalog, one).is_some_and(|sum| Some(sum) == amount(catalog, other))
}

impl Merged {
    /// Adds what earlier parts differed in and nobody has answered yet. Where this part differs there
    /// as well, all amounts are readings of one question.
    ///
    /// ```
    /// use parings_core::catalog::{Catalog, Kind};
    /// use parings_core::checks::merge;
    /// use parings_core::night::Count;
    /// let mut catalog = Catalog::default();
    /// let salt = r#"{"title":"Salt","group":"food","base":"mass","rhythm":{"every":"night"},
    ///   "shelves":[{"place":"dry","unit":"kg"}]}"#;
    /// let salt = Kind::Item.read(&mut serde_json::Deserializer::from_str(salt)).unwrap();
    /// catalog.put("salt", salt).unwrap();
    /// let part = |kg: &str| -> Count {
    ///     serde_json::from_value(serde_json::json!({ "complete": false, "lines": [{
    ///         "item": "salt", "place": "dry", "quantity": { "value": kg, "unit": "kg" } }] })).unwrap()
    /// };
    /// let two = merge(&catalog, &[part("9"), part("8")]);
    /// let three = merge(&catalog, &[two.count, part("7")]).with_open(&catalog, two.differ);
    /// assert_eq!(three.differ.len(), 1);
    /// assert_eq!(three.differ[0].says, "two or more counted Salt in dry: 9 kg, or 8 kg, or 7 kg?");
    /// ```
    #[must_use]
    pub fn with_open(mut self, catalog: &Catalog, open: Vec<Check>) -> Self {
        for mut before in open {
            let Some(now) = self.differ.iter_mut().find(|now| now.about == before.about) else {
                self.differ.push(before);
                continue;
            };
            for reading in &now.readings {
                if !before.readings.iter().any(|known| known.quantity == reading.quantity) {
                    let says = format!("counter {}", before.readings.len() + 1);
                    before.readings.push(Reading { says, ..reading.clone() });
                }
            }
            if let About::Line { item, place, .. } = &before.about {
                before.says = words(catalog, item, place, &before.readings);
            }
            before.stake = before.stake.max(now.stake);
            *now = before;
        }
        self
    }
}

fn words(catalog: &Catalog, item: &ItemId, place: &PlaceId, readings: &[Reading]) -> String {
    let title = catalog.items.get(item).map_or(item.as_str(), |known| known.title.as_str());
    let place = catalog.places.get(place).map_or(place.as_str(), |known| known.title.as_str());
    let amounts: Vec<_> = readings.iter().map(|reading| reading.quantity.to_string()).collect();
    let who = if amounts.len() > 2 { "two or more" } else { "two" };
    format!("{who} counted {title} in {place}: {}?", amounts.join(", or "))
}

fn question(catalog: &Catalog, key: &ShelfKey, counted: &[&Vec<&CountLine>]) -> Option<Check> {
    let (item, place, stage) = key.clone();
    let readings: Vec<Reading> = counted
        .iter()
        .enumerate()
        .filter_map(|(n, lines)| {
            let says = format!("counter {}", n + 1);
            Some(Reading { quantity: as_one(catalog, &item, lines)?, says })
        })
        .collect();
    let says = words(catalog, &item, &place, &readings);
    let sums = || counted.iter().filter_map(|lines| amount(catalog, lines));
    let price = catalog.unit_price(&item);
    let mut check = Check::new(CheckKind::TwoCounters, About::Line { item, place, stage }, says);
    check.readings = readings;
    check.stake = price.and_then(|price| price.try_of(sums().max()? - sums().min()?).ok());
    Some(check)
}

/// Several lines of a shelf as one amount: in their own unit where they share it and stand in no
/// pan, else net in the item's base unit.
fn as_one(catalog: &Catalog, id: &ItemId, lines: &[&CountLine]) -> Option<Typed> {
    let unit = lines.first()?.quantity.unit();
    if lines.iter().all(|line| line.pan.is_none() && line.quantity.unit() == unit) {
        let sum: Decimal = lines.iter().map(|line| line.quantity.value()).sum();
        return Typed::new(sum, unit.clone()).ok();
    }
    let item = catalog.items.get(id)?;
    let net = lines.iter().try_fold(Base::ZERO, |sum, line| {
        let net = match &line.pan {
            Some(pan) => item.net_of_pan(id, &line.quantity, pan),
            None => item.measure(id, &line.quantity),
        };
        Some(sum + net.ok()?)
    })?;
    let net = net.value().round_dp(Typed::DECIMALS).normalize();
    Typed::new(net, UnitName::Standard(item.base.base())).ok()
}
