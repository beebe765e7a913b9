//! Two plain ways to look for stores, to measure against.

use std::collections::BTreeMap;

use parings_core::calendar::BusinessDate;
use parings_core::review::{FindingKind, Label, Measure, Sheet};
use parings_core::stats::Robust;

use crate::chain::Chain;
use crate::score::Flag;

/// Which values stand out among those of a district, for the worse.
type Rule = fn(&[f64]) -> Vec<bool>;

/// Beyond the district's mean by two standard deviations.
pub fn two_sd(values: &[f64]) -> Vec<bool> {
    let n = values.len() as f64;
    let mean = values.iter().sum::<f64>() / n;
    let sd = (values.iter().map(|x| (x - mean).powi(2)).sum::<f64>() / (n - 1.0).max(1.0)).sqrt();
    values.iter().map(|x| x - mean > 2.0 * sd).collect()
}

/// A modified z beyond 3.5.
pub fn modified_z(values: &[f64]) -> Vec<bool> {
    let Ok(robust) = Robust::of(values) else { return vec![false; values.len()] };
    let out = |x: &f64| robust.modified_z(*x).is_some_and(|z| z > Robust::OUTLYING);
    values.iter().map(out).collect()
}

/// What a rule flags on a date: ratios of the last seven nights, store against district.
pub fn flags(chain: &Chain, as_of: BusinessDate, rule: Rule) -> Vec<Flag> {
    let sheet: &Sheet = &chain.sheet;
    let mut flags = Vec::new();
    for measure in Measure::RATIOS {
        let mut by_district: BTreeMap<Label, Vec<(Label, f64)>> = BTreeMap::new();
        for (store, district) in chain.stores.iter().zip(&chain.districts) {
            let sums = sheet.sums(*measure, *store, as_of.plus_days(-6), as_of);
            let Some(value) = sums.value() else { continue };
            let worse = if *measure == Measure::Yield { -value } else { value };
            by_district.entry(*district).or_default().push((*store, worse));
        }
        for (district, stores) in by_district {
            let values: Vec<f64> = stores.iter().map(|(_, value)| *value).collect();
            for ((store, _), out) in stores.into_iter().zip(rule(&values)) {
                if out {
                    let (store, measure, kind) = (Some(store), *measure, FindingKind::Drift);
                    flags.push(Flag { store, district, measure, kind });
                }
            }
        }
    }
    flags
}
