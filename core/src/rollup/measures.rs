use std::collections::BTreeMap;

use rust_decimal::Decimal;

use super::over_sales::Cost;
use super::{
    AgainstSales, DaypartSum, Every, ItemSum, NightSum, OverSales, RatioSum, Sum, ValuedSum,
    WasteLines,
};
use crate::ids::ItemId;
use crate::money::Money;
use crate::quantity::{Ratio, Tallied};
use crate::stats::StdDev;
use crate::tally::DaypartTally;
use crate::usage::{Causes, Estimate};

/// A ratio of sums with the nights that both sums come from. It does not add: merge the sums and
/// make it again.
///
/// ```compile_fail,E0369
/// use parings_core::rollup::Rate;
/// fn both(a: Rate, b: Rate) -> Rate {
///     a + b
/// }
/// ```
///
/// ```compile_fail,E0277
/// use parings_core::rollup::Rate;
/// fn mean(stores: Vec<Rate>) -> Rate {
///     stores.into_iter().sum()
/// }
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Rate {
    /// The two sums.
    pub ratio: Ratio,
    /// How many nights they come from.
    pub nights: u64,
}

impl Rate {
    /// None without a night, or over nothing.
    fn of(numerator: Decimal, denominator: Decimal, nights: u64) -> Option<Self> {
        let ratio = Ratio::new(numerator, denominator);
        (nights > 0 && !denominator.is_zero()).then_some(Self { ratio, nights })
    }

    fn amounts(numerator: Tallied, denominator: Tallied, nights: u64) -> Option<Self> {
        Self::of(numerator.base().value(), denominator.base().value(), nights)
    }

    fn of_sales(sum: &AgainstSales) -> Option<Self> {
        Self::costs(sum.cost, sum.sales, sum.nights)
    }

    fn of_money(sum: &RatioSum) -> Option<Self> {
        let money = |sum: i128| Decimal::try_from_i128_with_scale(sum, 4).ok();
        Self::of(money(sum.numerator)?, money(sum.denominator)?, sum.nights)
    }

    fn costs(numerator: Money, denominator: Money, nights: u64) -> Option<Self> {
        Self::of(numerator.to_decimal(), denominator.to_decimal(), nights)
    }
}

/// An amount of money that is known only so well.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CostEstimate {
    /// How much money it is; below zero where less was used than expected.
    pub cost: Money,
    /// How far it may be off, one standard deviation, in the currency's major unit; none when
    /// nobody can tell.
    pub sd: Option<StdDev>,
}

/// A variance by cause in money, over one item or several. Negative parts stay negative.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CostCauses {
    /// Used less expected.
    pub variance: CostEstimate,
    /// Written down as thrown away, safety discards apart: they are not used.
    pub waste: Money,
    /// Lost in batches beyond the standard yield.
    pub yield_loss: Money,
    /// Served beyond the recipe, as samples say; none without samples. Over several items it speaks
    /// for those with samples only.
    pub over_portioning: Option<CostEstimate>,
    /// What is left of the variance when every other cause is taken off.
    pub unexplained: CostEstimate,
}

/// The measures of an item.
#[derive(Debug, Clone, PartialEq)]
pub struct ItemMeasures {
    /// The sums they are made from.
    pub sum: ItemSum,
    /// The variance and its causes, as purchased, over spans whose expected use is known; none
    /// without any.
    pub causes: Option<Causes>,
    /// The same in money, over those that have a price; none without any.
    pub cost_causes: Option<CostCauses>,
    /// Variance over expected use.
    pub of_expected: Option<Rate>,
    /// Cost of the variance over sales of the same nights.
    pub of_sales: Option<Rate>,
    /// What sales and preparation should have taken, over what was used.
    pub accounted: Option<Rate>,
    /// What came out of batches, over what should have.
    pub batch_yield: Option<Rate>,
    /// Cost of use over sales of the same nights.
    pub food_cost: Option<Rate>,
}

/// The measures over all items, in money.
#[derive(Debug, Clone, PartialEq)]
pub struct MoneyMeasures {
    /// Cost of what was used up: used less made into others, so that nothing is in it twice.
    pub used: Money,
    /// Item nights of it: the open nights of every item's spans, added up over items.
    pub used_nights: u64,
    /// The sums of spans that have both expected use and a price.
    pub valued: ValuedSum,
    /// Their variance and its causes; none without any.
    pub causes: Option<CostCauses>,
    /// Variance over expected use, in item nights.
    pub of_expected: Option<Rate>,
    /// Variance over sales, in store nights.
    pub of_sales: Option<OverSales>,
    /// What sales and preparation should have taken, over what was used, in item nights.
    pub accounted: Option<Rate>,
    /// Waste over sales of the same nights, safety discards and short nights apart.
    pub waste_of_sales: Option<Rate>,
    /// Cost of what was used up over sales, in store nights. What was thrown away for safety is not in
    /// it.
    pub food_cost: Option<OverSales>,
    /// What deliveries cost beyond standard prices, where it is known what was paid.
    pub price_effect: Money,
}

/// Every measure of a scope and a span, made once from their sum.
#[derive(Debug, Clone, PartialEq)]
pub struct Measures {
    /// The measures of each item that anything is known of.
    pub items: BTreeMap<ItemId, ItemMeasures>,
    /// Over all items.
    pub money: MoneyMeasures,
}

impl Measures {
    /// Makes the measures of a sum; `every` tells how often an item is counted.
    pub fn of(sum: &Sum, every: impl Fn(&ItemId) -> Every) -> Self {
        let items = sum.items.iter();
        let items: BTreeMap<_, _> =
            items.map(|(id, item)| (id.clone(), ItemMeasures::of(item.clone()))).collect();
        let money = MoneyMeasures::of(sum, &items, every);
        Self { items, money }
    }
}

impl ItemMeasures {
    /// Makes the measures of an item.
    pub fn of(sum: ItemSum) -> Self {
        let matched = &sum.compared;
        let variance = matched.used - matched.made_into - matched.expected;
        let due = matched.expected + matched.made_into;
        let sd = matched.ends.sd();
        let causes = (matched.nights > 0).then(|| {
            let (waste, loss) = (matched.wasted, matched.yield_loss);
            Causes::split(variance, matched.expected, waste, loss, &sum.samples, Some(sd))
        });
        Self {
            of_expected: Rate::amounts(variance, due, matched.nights),
            of_sales: Rate::of_sales(&sum.against_sales),
            food_cost: Rate::of_sales(&sum.food),
            accounted: Rate::amounts(due, matched.used, matched.nights),
            batch_yield: Rate::amounts(
                sum.batches.out,
                sum.batches.expected_out,
                sum.batches.nights,
            ),
            cost_causes: causes.and_then(|causes| in_money(&causes, &sum.valued)),
            causes,
            sum,
        }
    }
}

impl MoneyMeasures {
    fn of(
        sum: &Sum,
        items: &BTreeMap<ItemId, ItemMeasures>,
        every: impl Fn(&ItemId) -> Every,
    ) -> Self {
        let (mut used, mut used_nights) = (Money::ZERO, 0);
        let mut valued = ValuedSum::default();
        let mut causes: Option<CostCauses> = None;
        for item in items.values() {
            used += item.sum.used.used_cost - item.sum.used.made_into_cost;
            used_nights += item.sum.used.cost_nights;
            let cost = &item.sum.valued;
            // Amounts of different items do not add.
            valued = valued.merge(&ValuedSum { used: Tallied::ZERO, ..cost.clone() });
            causes = match (causes, item.cost_causes) {
                (Some(sum), Some(one)) => Some(sum.and(&one)),
                (sum, one) => sum.or(one),
            };
        }
        let accounted = valued.expected_cost + valued.made_into_cost;
        Self {
            of_expected: Rate::costs(valued.variance_cost, valued.expected_cost, valued.nights),
            of_sales: OverSales::of(Cost::Variance, sum, items, &every),
            accounted: Rate::costs(accounted, valued.used_cost, valued.nights),
            waste_of_sales: Rate::of_money(&sum.night.waste),
            food_cost: OverSales::of(Cost::Food, sum, items, &every),
            price_effect: items.values().map(|item| item.sum.price_effect).sum(),
            used,
            used_nights,
            valued,
            causes,
        }
    }
}

impl WasteLines {
    /// Its share of the cost of all waste of the same nights, safety discards apart.
    pub fn share(&self, night: &NightSum) -> Option<Rate> {
        Rate::costs(self.cost, night.wasted_cost, night.nights)
    }
}

impl DaypartSum {
    /// Its share of the sales of all dayparts and channels.
    pub fn share_of_sales(&self, all: &DaypartTally, nights: u64) -> Option<Rate> {
        Rate::costs(self.tally.sales, all.sales, nights)
    }

    /// Its share of the orders of all dayparts and channels.
    pub fn share_of_orders(&self, all: &DaypartTally, nights: u64) -> Option<Rate> {
        Rate::of(self.tally.tickets.orders.into(), all.tickets.orders.into(), nights)
    }
}

impl CostCauses {
    /// Two items' causes together. Their counts and samples are independent of each other.
    fn and(&self, other: &Self) -> Self {
        let both = |a: CostEstimate, b: CostEstimate| CostEstimate {
            cost: a.cost + b.cost,
            sd: a.sd.zip(b.sd).map(|(a, b)| a.and(b)),
        };
        Self {
            variance: both(self.variance, other.variance),
            waste: self.waste + other.waste,
            yield_loss: self.yield_loss + other.yield_loss,
            over_portioning: match (self.over_portioning, other.over_portioning) {
                (Some(a), Some(b)) => Some(both(a, b)),
                (a, b) => a.or(b),
            },
            unexplained: both(self.unexplained, other.unexplained),
        }
    }
}

/// Causes in money: recorded costs as they were recorded, the estimated parts and all uncertainty
/// at the mean cost of a unit in the same spans. What was not used at all has no mean cost and
/// nothing estimated.
fn in_money(causes: &Causes, sum: &ValuedSum) -> Option<CostCauses> {
    if sum.nights == 0 {
        return None;
    }
    let unit = sum.used_cost.to_decimal().checked_div(sum.used.base().value());
    let unit = unit.unwrap_or_default();
    let spread = |sd: Option<StdDev>| sd.and_then(|sd| sd.times(as_f64(unit)).ok());
    let estimated = |part: Estimate| {
        let cost = part.amount.base().value().checked_mul(unit)?;
        Some(CostEstimate { cost: Money::from_decimal(cost).ok()?, sd: spread(part.sd) })
    };
    let over_portioning = causes.over_portioning.and_then(estimated);
    let rest = sum.variance_cost - sum.wasted_cost - sum.yield_loss_cost;
    Some(CostCauses {
        variance: CostEstimate { cost: sum.variance_cost, sd: spread(causes.variance.sd) },
        waste: sum.wasted_cost,
        yield_loss: sum.yield_loss_cost,
        over_portioning,
        unexplained: CostEstimate {
            cost: rest - over_portioning.map(|over| over.cost).unwrap_or_default(),
            sd: spread(causes.unexplained.sd),
        },
    })
}

pub(super) fn as_f64(value: Decimal) -> f64 {
    use rust_decimal::prelude::ToPrimitive;
    value.to_f64().unwrap_or_default()
}

#[cfg(test)]
mod tests;
