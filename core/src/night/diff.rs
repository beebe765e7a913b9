//! What differs between two revisions of a count.

use std::collections::{BTreeMap, BTreeSet};

use super::{Count, CountLine, Outcome, UnitsSold};
use crate::catalog::{Catalog, Typed};
use crate::ids::{ChannelId, DaypartId, ItemId, PlaceId, ProductId, SizeId, StageId};
use crate::money::Money;
use crate::quantity::{Base, Tallied};

/// What differs between two counts.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct CountDiff {
    /// Shelf by shelf, where anything does.
    pub shelves: Vec<ShelfDiff>,
    /// Units sold as typed, where the numbers do.
    pub units_sold: Vec<UnitsDiff>,
    /// Net sales as typed, before and after, where they do.
    pub net_sales: Option<(Option<Money>, Option<Money>)>,
}

/// An item at one stage in one place, before and after.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ShelfDiff {
    /// The item that was counted.
    pub item: ItemId,
    /// The storage place in which it stood.
    pub place: PlaceId,
    /// The stage; none for as purchased.
    pub stage: Option<StageId>,
    /// As typed before, a line each; nothing where the shelf was not counted.
    pub before: Vec<Typed>,
    /// As typed after, a line each; nothing where the shelf is not counted any more.
    pub after: Vec<Typed>,
    /// After less before, as purchased; none where a line cannot be understood.
    pub difference: Option<Tallied>,
}

/// A product and size under an outcome, daypart and channel, before and after.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct UnitsDiff {
    /// The product that was sold.
    pub product: ProductId,
    /// The size in which it was sold.
    pub size: SizeId,
    /// Units in the count before.
    pub before: u64,
    /// Units in the count after.
    pub after: u64,
}

/// The lines that are compared with each other: those of one item, at one stage, in one place.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
struct ShelfKey<'a> {
    item: &'a ItemId,
    place: &'a PlaceId,
    stage: Option<&'a StageId>,
}

fn shelves(count: &Count) -> BTreeMap<ShelfKey<'_>, Vec<&CountLine>> {
    let mut shelves: BTreeMap<ShelfKey<'_>, Vec<&CountLine>> = BTreeMap::new();
    for line in &count.lines {
        let CountLine { item, place, stage, .. } = line;
        shelves.entry(ShelfKey { item, place, stage: stage.as_ref() }).or_default().push(line);
    }
    shelves
}

/// The units that add up to one number: those of one size that went the same way.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
struct SoldKey<'a> {
    product: &'a ProductId,
    size: &'a SizeId,
    outcome: Outcome,
    daypart: Option<&'a DaypartId>,
    channel: Option<&'a ChannelId>,
}

fn units(count: &Count) -> BTreeMap<SoldKey<'_>, u64> {
    let mut all: BTreeMap<SoldKey<'_>, u64> = BTreeMap::new();
    for UnitsSold { product, size, units, outcome, daypart, channel } in &count.units_sold {
        let (daypart, channel) = (daypart.as_ref(), channel.as_ref());
        let key = SoldKey { product, size, outcome: *outcome, daypart, channel };
        *all.entry(key).or_default() += u64::from(*units);
    }
    all
}

/// Compares two counts, shelf by shelf. Several lines of a shelf add up, in whatever order.
///
/// ```
/// use parings_core::catalog::Catalog;
/// use parings_core::night::{Count, diff};
/// let count = |kg: &str| -> Count { serde_json::from_value(serde_json::json!({
///   "complete": true, "lines": [
///     { "item": "salt", "place": "dry", "quantity": { "value": kg, "unit": "kg" } }] })).unwrap() };
/// let found = diff(&Catalog::default(), &count("9"), &count("4"));
/// assert_eq!((found.shelves[0].before[0].to_string(), found.shelves[0].after[0].to_string()),
///   ("9 kg".into(), "4 kg".into()));
/// // The catalogue knows no salt, so nothing says what that is as purchased.
/// assert_eq!(found.shelves[0].difference, None);
/// ```
pub fn diff(catalog: &Catalog, before: &Count, after: &Count) -> CountDiff {
    let (was, is) = (shelves(before), shelves(after));
    let none: &[&CountLine] = &[];
    let keys: BTreeSet<_> = was.keys().chain(is.keys()).copied().collect();
    let shelves = keys.into_iter().filter_map(|key| {
        let lines = |of: &BTreeMap<ShelfKey<'_>, Vec<&CountLine>>| -> Vec<CountLine> {
            let lines = of.get(&key).map_or(none, Vec::as_slice);
            lines.iter().map(|line| (*line).clone()).collect()
        };
        let (before, after) = (lines(&was), lines(&is));
        let same = before.len() == after.len()
            && before.iter().all(|line| {
                let times = |of: &[CountLine]| of.iter().filter(|other| *other == line).count();
                times(&before) == times(&after)
            });
        if same {
            return None;
        }
        let sum = |lines: &[CountLine]| {
            lines.iter().try_fold(Base::ZERO, |sum, line| Some(sum + line.amount(catalog).ok()?))
        };
        let settled = |lines: &[CountLine]| sum(lines)?.settle().ok();
        let difference =
            settled(&after).zip(settled(&before)).map(|(after, before)| after - before);
        let typed = |lines: &[CountLine]| lines.iter().map(|line| line.quantity.clone()).collect();
        Some(ShelfDiff {
            item: key.item.clone(),
            place: key.place.clone(),
            stage: key.stage.cloned(),
            before: typed(&before),
            after: typed(&after),
            difference,
        })
    });
    let (sold_before, sold_after) = (units(before), units(after));
    let sold: BTreeSet<_> = sold_before.keys().chain(sold_after.keys()).copied().collect();
    let units_sold = sold.into_iter().filter_map(|key| {
        let of = |sold: &BTreeMap<SoldKey<'_>, u64>| sold.get(&key).copied().unwrap_or_default();
        let (before, after) = (of(&sold_before), of(&sold_after));
        let (product, size) = (key.product.clone(), key.size.clone());
        (before != after).then_some(UnitsDiff { product, size, before, after })
    });
    CountDiff {
        shelves: shelves.collect(),
        units_sold: units_sold.collect(),
        net_sales: (before.net_sales != after.net_sales)
            .then_some((before.net_sales, after.net_sales)),
    }
}

#[cfg(test)]
mod tests {
    use serde_json::json;

    use super::*;
    use crate::catalog::Kind;

    fn catalog() -> Catalog {
        let salt = json!({ "title": "Salt", "group": "food", "base": "mass",
            "rhythm": { "every": "night" }, "shelves": [{ "place": "dry", "unit": "kg" }] });
        let mut catalog = Catalog::default();
        catalog.put("salt", Kind::Item.read(&salt).unwrap()).unwrap();
        catalog
    }

    fn count(lines: &[(&str, &str)], units: u32, net: Option<&str>) -> Count {
        let lines: Vec<_> = lines
            .iter()
            .map(|(place, kg)| {
                json!({ "item": "salt", "place": place, "quantity": { "value": kg, "unit": "kg" } })
            })
            .collect();
        let sold = json!([{ "product": "fries", "size": "one", "units": units }]);
        serde_json::from_value(json!({
            "complete": true, "lines": lines, "units_sold": sold, "net_sales": net,
        }))
        .unwrap()
    }

    #[test]
    fn shelves_that_were_added_removed_and_changed() {
        let before = count(&[("dry", "9"), ("dry", "1"), ("line", "2")], 5, Some("10"));
        let after = count(&[("dry", "1"), ("dry", "8"), ("attic", "3")], 7, None);
        let found = diff(&catalog(), &before, &after);
        let said: Vec<_> = found
            .shelves
            .iter()
            .map(|s| (s.place.as_str(), s.before.len(), s.after.len()))
            .collect();
        assert_eq!(said, [("attic", 0, 1), ("dry", 2, 2), ("line", 1, 0)]);
        let kg: Vec<_> =
            found.shelves.iter().map(|s| s.difference.unwrap().thousandths() / 1_000_000).collect();
        assert_eq!(kg, [3, -1, -2]);
        assert_eq!((found.units_sold[0].before, found.units_sold[0].after), (5, 7));
        assert_eq!(found.net_sales.unwrap().1, None);
    }

    #[test]
    fn the_order_of_lines_is_no_difference() {
        let before = count(&[("dry", "9"), ("line", "2"), ("dry", "1")], 5, None);
        let after = count(&[("dry", "1"), ("dry", "9"), ("line", "2")], 5, None);
        assert_eq!(diff(&catalog(), &before, &after), CountDiff::default());
    }
}
