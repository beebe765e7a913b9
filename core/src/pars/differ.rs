use std::collections::{BTreeMap, BTreeSet};

use super::{Applied, BatchSize, Par, ParKey, ParSet, Rule, Whose};
use crate::calendar::Weekday;
use crate::catalog::Catalog;
use crate::ids::ItemId;

/// What differs between two sets, by what applies: taking out what a format had for itself changes
/// its amount to the default's.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Difference {
    /// The pars that differ, by the rule they stand under and what they are for.
    pub pars: Vec<ParChange>,
    /// What a batch is.
    pub batches: Vec<BatchChange>,
}

/// A par that differs, on weekdays on which it differs alike.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ParChange {
    /// For whom: a format that has a par of its own before or after, or all others.
    pub rule: Rule,
    /// The item and daypart.
    pub key: ParKey,
    /// The weekdays on which they differ in this way.
    pub weekdays: Vec<Weekday>,
    /// What applied before; nothing when it is added.
    pub before: Option<Applied>,
    /// What applies after; nothing when it is taken out.
    pub after: Option<Applied>,
}

/// A batch that differs.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct BatchChange {
    /// The item whose batch differs.
    pub item: ItemId,
    /// What it was; nothing when it is added.
    pub before: Option<BatchSize>,
    /// What it is; nothing when it is taken out.
    pub after: Option<BatchSize>,
}

/// Whether two pars of an item are the same amount at the same stage, in whatever units: exactly,
/// where the catalogue knows the item.
pub fn same(catalog: &Catalog, item: &ItemId, a: &Par, b: &Par) -> bool {
    let amounts = catalog
        .items
        .get(item)
        .and_then(|known| Some((a.amount(item, known).ok()?, b.amount(item, known).ok()?)));
    a.stage == b.stage && amounts.map_or(a.quantity == b.quantity, |(a, b)| a == b)
}

/// What differs from a set to another, from nothing where there was none before.
///
/// ```
/// use parings_core::catalog::Catalog;
/// use parings_core::pars::{ParSet, difference};
/// let set = |value: u32| -> ParSet { serde_json::from_value(serde_json::json!({
///     "title": "Autumn", "lines": [{ "item": "potato", "weekdays": ["thu", "fri"],
///       "dayparts": ["dinner"], "par": { "quantity": { "value": value, "unit": "kg" } } }]
/// })).unwrap() };
/// let changed = difference(&Catalog::default(), Some(&set(72)), &set(80));
/// assert_eq!(changed.pars.len(), 1);
/// assert_eq!(changed.pars[0].weekdays.len(), 2);
/// assert_eq!(changed.pars[0].after.as_ref().unwrap().par.quantity.to_string(), "80 kg");
/// assert_eq!(difference(&Catalog::default(), Some(&set(72)), &set(72)), Default::default());
/// ```
pub fn difference(catalog: &Catalog, before: Option<&ParSet>, after: &ParSet) -> Difference {
    let both = || before.into_iter().chain([after]);
    let formats: BTreeSet<_> =
        both().flat_map(|set| set.formats.iter().map(|own| own.format.clone())).collect();
    let rules = [Rule::Default].into_iter().chain(formats.into_iter().map(Rule::Format));
    let mut pars: Vec<ParChange> = Vec::new();
    for rule in rules {
        for weekday in Weekday::ALL {
            let keys: BTreeSet<ParKey> =
                both().flat_map(|set| set.of_rule(&rule, weekday).map(|(key, _)| key)).collect();
            let (was, is) =
                (before.map(|set| applied(set, &rule, weekday)), applied(after, &rule, weekday));
            for key in keys {
                let was = was.as_ref().and_then(|was| was.get(&key));
                let is = is.get(&key);
                let alike = match (was, is) {
                    (Some(was), Some(is)) => same(catalog, &key.item, &was.par, &is.par),
                    (was, is) => was.is_none() && is.is_none(),
                };
                if !alike {
                    add(&mut pars, &rule, key, weekday, (was.cloned(), is.cloned()));
                }
            }
        }
    }
    Difference { pars, batches: batches(before, after) }
}

/// What applies where a rule is the strongest: to a format, or to stores of none that has its own.
fn applied(set: &ParSet, rule: &Rule, weekday: Weekday) -> BTreeMap<ParKey, Applied> {
    match rule {
        Rule::Format(format) => set.on(&Whose { format: format.clone() }, weekday),
        Rule::Default => {
            let of_all = set.of_rule(rule, weekday);
            of_all
                .map(|(key, par)| (key, Applied { rule: rule.clone(), par: par.clone() }))
                .collect()
        }
    }
}

/// Adds a change, to the weekdays of one that is alike.
fn add(
    pars: &mut Vec<ParChange>,
    rule: &Rule,
    key: ParKey,
    weekday: Weekday,
    (before, after): (Option<Applied>, Option<Applied>),
) {
    let alike = pars.iter_mut().find(|known| {
        known.rule == *rule && known.key == key && known.before == before && known.after == after
    });
    match alike {
        Some(known) => known.weekdays.push(weekday),
        None => {
            let (rule, weekdays) = (rule.clone(), vec![weekday]);
            pars.push(ParChange { rule, key, weekdays, before, after });
        }
    }
}

fn batches(before: Option<&ParSet>, after: &ParSet) -> Vec<BatchChange> {
    let before = before.map_or(&[][..], |set| set.batches.as_slice());
    let items: BTreeSet<_> = before.iter().chain(&after.batches).map(|b| &b.item).collect();
    let of = |list: &[BatchSize], item: &ItemId| list.iter().find(|b| b.item == *item).cloned();
    let changes = items.into_iter().map(|item| BatchChange {
        item: item.clone(),
        before: of(before, item),
        after: of(&after.batches, item),
    });
    changes.filter(|change| change.before != change.after).collect()
}
