use std::collections::BTreeMap;

use rust_decimal::Decimal;

use super::{AgainstSales, Every, ItemMeasures, Rate, Sum};
use crate::ids::ItemId;
use crate::money::Money;
use crate::quantity::Ratio;
use crate::stats::StdDev;

/// A cost of all items over the sales of the nights that were asked for.
///
/// Items are counted in rhythms of their own: what a weekly count says is of its week, and a week of
/// cost is not to be divided by the sales of a Sunday. So each item is held against the sales of its own
/// spans, and the ratio counts for as much as the item is kept:
///
/// `R = Σ (C ÷ D) · (Wᵢ ÷ W)`
///
/// with C and D the cost and the sales of the item's own spans, W the sales of the nights asked for,
/// and Wᵢ the sales of those nights on which the item is kept. Where the spans of every item just fill
/// the nights it is cost over sales, to the digit.
#[derive(Debug, Clone, PartialEq)]
pub struct OverSales {
    /// Numerator Σ C · Wᵢ ÷ D, denominator W, and the nights asked for that are covered by spans.
    pub rate: Rate,
    /// How far the numerator may be off because counts are, one standard deviation; variances of items
    /// add, ranges never.
    pub sd: Option<StdDev>,
    /// By how often items are counted: their part of the numerator, over the same denominator, and the
    /// nights that their spans cover.
    pub rhythms: Vec<RhythmPart>,
    /// The items that are in it.
    pub items: Vec<ItemId>,
    /// Items that are kept and have no span of their own to go by: what they cost is not in it.
    pub uncounted: Vec<ItemId>,
}

/// The part of a cost over sales that items of one rhythm make.
#[derive(Debug, Clone, PartialEq)]
pub struct RhythmPart {
    /// How often they are counted.
    pub every: Every,
    /// Their part of the ratio.
    pub rate: Rate,
    /// What their spans cost, whatever nights those are of: Σ C.
    pub cost: Money,
    /// How many items.
    pub items: u64,
}

/// The cost of each item that is held against sales.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Cost {
    /// Of what was used up.
    Food,
    /// Of the variance.
    Variance,
}

impl Cost {
    fn of(self, item: &ItemMeasures) -> &AgainstSales {
        match self {
            Self::Food => &item.sum.food,
            Self::Variance => &item.sum.against_sales,
        }
    }

    fn nights(self, covered: &super::Covered) -> u64 {
        match self {
            Self::Food => covered.food,
            Self::Variance => covered.variance,
        }
    }
}

impl OverSales {
    /// None without sales, or without an item that has a cost and sales of its own.
    pub(super) fn of(
        cost: Cost,
        sum: &Sum,
        items: &BTreeMap<ItemId, ItemMeasures>,
        every: impl Fn(&ItemId) -> Every,
    ) -> Option<Self> {
        let all = sum.night.sales.to_decimal();
        let (mut numerator, mut variance) = (Decimal::ZERO, Some(0.0));
        let mut parts: BTreeMap<Every, (Decimal, Money, u64)> = BTreeMap::new();
        let (mut counted, mut uncounted) = (Vec::new(), Vec::new());
        for (id, item) in items {
            let own = cost.of(item);
            if own.sales.is_zero() {
                if item.sum.kept.nights > 0 {
                    uncounted.push(id.clone());
                }
                continue;
            }
            let (cost, share) = (own.cost.to_decimal(), weight(item.sum.kept.sales, own.sales)?);
            let part = cost.checked_mul(share)?;
            numerator = numerator.checked_add(part)?;
            let of_rhythm = parts.entry(every(id)).or_default();
            *of_rhythm = (of_rhythm.0 + part, of_rhythm.1 + own.cost, of_rhythm.2 + 1);
            let sd = item.cost_causes.and_then(|causes| causes.variance.sd);
            let sd = sd.map(|sd| sd.value() * super::measures::as_f64(share));
            variance = variance.zip(sd).map(|(sum, sd)| sum + sd * sd);
            counted.push(id.clone());
        }
        let rate = |numerator: Decimal, covered: &super::Covered| {
            let nights = cost.nights(covered);
            (nights > 0 && !all.is_zero())
                .then(|| Rate { ratio: Ratio::new(numerator, all), nights })
        };
        let none = super::Covered::default();
        let rhythms = parts.into_iter().filter_map(|(every, (part, cost, items))| {
            let rate = rate(part, sum.rhythms.get(&every).unwrap_or(&none))?;
            Some(RhythmPart { every, rate, cost, items })
        });
        Some(Self {
            rate: rate(numerator, &sum.covered).filter(|_| !counted.is_empty())?,
            sd: variance.and_then(|variance: f64| StdDev::new(variance.sqrt()).ok()),
            rhythms: rhythms.collect(),
            items: counted,
            uncounted,
        })
    }
}

/// Wᵢ ÷ D: exactly one where the spans of an item just fill the nights on which it is kept.
fn weight(kept: Money, own: Money) -> Option<Decimal> {
    match kept == own {
        true => Some(Decimal::ONE),
        false => kept.to_decimal().checked_div(own.to_decimal()),
    }
}
