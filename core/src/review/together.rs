use std::collections::BTreeMap;

use super::Measure;
use crate::calendar::BusinessDate;
use crate::ids::{DistrictId, RegionId};
use crate::stats::{Confidence, Interval, Noisy, Pooled};

/// What a district shares has the lot in common with others from this part of its nights on.
const MOSTLY: f64 = 0.5;

/// What the stores of a district share.
#[derive(Debug, Clone, PartialEq)]
pub struct Moved {
    /// The district whose stores moved.
    pub district: DistrictId,
    /// The region that the district lies in.
    pub area: RegionId,
    /// The measure in which they moved.
    pub measure: Measure,
    /// The lot that most of its nights since were cooked from, with the part of them that were.
    pub lot: Option<(String, f64)>,
    /// The night it is estimated to have begun.
    pub since: BusinessDate,
    /// The change of the measure's ratio, drawn towards nothing by how it was picked out.
    pub size: f64,
    /// Where that lies at 95 %.
    pub range: Interval,
    /// What it comes to a week, in the currency's major unit.
    pub money_per_week: Option<f64>,
}

/// What districts that moved alike have in common.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub enum Common {
    /// The lot that they cook from.
    Lot(String),
    /// No lot that is known; the area they lie in.
    Area(RegionId),
}

/// Districts that moved alike and have something in common.
#[derive(Debug, Clone, PartialEq)]
pub struct Together {
    /// The measure in which they moved.
    pub measure: Measure,
    /// What they have in common.
    pub common: Common,
    /// The earliest night that it is estimated to have begun.
    pub since: BusinessDate,
    /// By how much: the mean of the districts, by how surely each is known.
    pub size: f64,
    /// Where that mean lies at 95 %, the districts' own differences allowed for.
    pub range: Interval,
    /// What it comes to a week in all of them; none where nothing of it has a price.
    pub money_per_week: Option<f64>,
    /// The districts, most money first; of the same money, in the order of their codes.
    pub districts: Vec<Moved>,
}

/// Puts what districts share together, by lot and else by area, most money a week first.
///
/// A lot that is poor moves every district that cooks from it: one matter, not as many as districts.
///
/// ```
/// use parings_core::calendar::BusinessDate;
/// use parings_core::review::{Common, Measure, Moved, together};
/// use parings_core::stats::Interval;
/// let moved = |district: &str, lot: Option<(&str, f64)>, size: f64| Moved {
///     district: district.parse().unwrap(), area: "valley".parse().unwrap(),
///     measure: Measure::Yield, lot: lot.map(|(lot, share)| (lot.to_owned(), share)),
///     since: BusinessDate::new(2026, 6, 2).unwrap(), size,
///     range: Interval { low: size - 0.01, high: size + 0.01 }, money_per_week: Some(40.0),
/// };
/// let found = together(vec![
///     moved("upper", Some(("L-2207", 0.9)), -0.03),
///     moved("lower", Some(("L-2207", 0.7)), -0.02),
///     moved("coast", Some(("L-2208", 0.3)), -0.02),
/// ]);
/// assert_eq!(found[0].common, Common::Lot("L-2207".to_owned()));
/// assert_eq!((found[0].districts.len(), found[0].money_per_week), (2, Some(80.0)));
/// assert!((found[0].size - -0.025).abs() < 1e-12);
/// assert_eq!(found[1].common, Common::Area("valley".parse().unwrap()));
/// ```
pub fn together(moved: Vec<Moved>) -> Vec<Together> {
    let mut groups: BTreeMap<(Measure, Common), Vec<Moved>> = BTreeMap::new();
    for one in moved {
        let lot = one.lot.as_ref().filter(|(_, share)| *share >= MOSTLY);
        let common = match lot {
            Some((lot, _)) => Common::Lot(lot.clone()),
            None => Common::Area(one.area.clone()),
        };
        groups.entry((one.measure, common)).or_default().push(one);
    }
    let groups = groups.into_iter().filter_map(|(key, districts)| group(key, districts));
    let mut found: Vec<Together> = groups.collect();
    found.sort_by(|a, b| money(b.money_per_week).total_cmp(&money(a.money_per_week)));
    found
}

fn group((measure, common): (Measure, Common), mut districts: Vec<Moved>) -> Option<Together> {
    districts.sort_by(|a, b| {
        let by_money = money(b.money_per_week).total_cmp(&money(a.money_per_week));
        by_money.then_with(|| a.district.cmp(&b.district))
    });
    let z = Confidence::NINETY_FIVE.z();
    let noisy: Vec<Noisy> = districts
        .iter()
        .map(|one| {
            let error = (one.range.high - one.range.low) / (2.0 * z);
            Noisy { value: one.size, variance: error * error }
        })
        .collect();
    let first = districts.first()?;
    // One district alone, or one of which it is not known how surely, is told as it is.
    let (size, range) = Pooled::of(&noisy).map_or((first.size, first.range), |pooled| {
        let mean = pooled.mean();
        let half = z * mean.variance.sqrt();
        (mean.value, Interval { low: mean.value - half, high: mean.value + half })
    });
    let priced = districts.iter().any(|one| one.money_per_week.is_some());
    let sum = districts.iter().filter_map(|one| one.money_per_week).sum();
    Some(Together {
        measure,
        common,
        since: districts.iter().map(|one| one.since).min()?,
        size,
        range,
        money_per_week: priced.then_some(sum),
        districts,
    })
}

fn money(of: Option<f64>) -> f64 {
    of.unwrap_or(f64::NEG_INFINITY)
}

#[cfg(test)]
mod tests;
