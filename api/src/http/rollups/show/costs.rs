use parings_core::money::{Currency, Money};
use parings_core::rollup::{CostCauses, CostEstimate, DoubtSum, OverSales, Rate, RhythmPart};
use rust_decimal::Decimal;
use rust_decimal::prelude::FromPrimitive;

use super::amounts::{fixed, rate};
use crate::app::figures::rollups::Row;
use crate::http::quantity::Number;
use crate::http::rollups::body::{
    Causes, DoubtfulBody, MoneyAmountBody, MoneyBody, MoneyUsedBody, MoneyVarianceBody,
    OverSalesBody, RateBody, RhythmPartBody,
};

/// Money in the currency's own decimals.
#[derive(Clone, Copy)]
pub(super) struct Costs<'a>(pub &'a Currency);

impl Costs<'_> {
    pub(super) fn number(self, money: Money) -> Number {
        Number(money.shown(self.0))
    }

    pub(super) fn estimated(self, estimate: CostEstimate) -> MoneyAmountBody {
        let sd = estimate.sd.and_then(|sd| Decimal::from_f64(sd.value()));
        MoneyAmountBody {
            value: self.number(estimate.cost),
            sd: sd.map(|sd| fixed(sd, self.0.exponent())),
        }
    }

    pub(super) fn rate(self, made: Option<Rate>, per: u32) -> Option<RateBody> {
        rate(made?, per, |money| fixed(money, self.0.exponent()))
    }

    fn over_sales(self, over: &OverSales) -> Option<OverSalesBody> {
        let part = |part: &RhythmPart| {
            Some(RhythmPartBody {
                every: part.every.word().to_owned(),
                rate: self.rate(Some(part.rate), 100)?,
                cost: self.number(part.cost),
                items: part.items,
            })
        };
        Some(OverSalesBody {
            rate: self.rate(Some(over.rate), 100)?,
            rhythms: over.rhythms.iter().filter_map(part).collect(),
            uncounted: over.uncounted.iter().map(ToString::to_string).collect(),
        })
    }

    pub(super) fn causes(self, causes: &CostCauses) -> Causes<MoneyAmountBody> {
        let exact = |cost| self.estimated(CostEstimate { cost, sd: None });
        Causes {
            waste: exact(causes.waste),
            yield_loss: exact(causes.yield_loss),
            over_portioning: causes.over_portioning.map(|part| self.estimated(part)),
            unexplained: self.estimated(causes.unexplained),
        }
    }

    pub(super) fn all(self, row: &Row) -> Option<MoneyBody> {
        let (all, night) = (&row.measures.money, &row.sum.night);
        let used = (all.used_nights > 0)
            .then(|| MoneyUsedBody { cost: self.number(all.used), item_nights: all.used_nights });
        (used.is_some() || night.nights > 0).then(|| MoneyBody {
            used,
            variance: all.causes.as_ref().map(|causes| MoneyVarianceBody {
                amount: self.estimated(causes.variance),
                expected: self.number(all.valued.expected_cost),
                item_nights: all.valued.nights,
                of_expected: self.rate(all.of_expected, 100),
                of_sales: all.of_sales.as_ref().and_then(|over| self.over_sales(over)),
                accounted: self.rate(all.accounted, 100),
                causes: self.causes(causes),
            }),
            wasted: self.number(night.wasted_cost),
            wasted_safety: self.number(night.wasted_safety_cost),
            waste_of_sales: self.rate(all.waste_of_sales, 1000),
            food_cost: all.food_cost.as_ref().and_then(|over| self.over_sales(over)),
            price_effect: self.some(all.price_effect),
        })
    }

    pub(super) fn doubtful(self, sum: &DoubtSum) -> Option<DoubtfulBody> {
        (sum.spans > 0).then(|| DoubtfulBody {
            spans: sum.spans,
            used_cost: self.number(sum.used_cost),
            by: sum.by.iter().map(|(doubt, spans)| (doubt.word().to_owned(), *spans)).collect(),
        })
    }

    /// Money that is nothing where it is nothing.
    pub(super) fn some(self, cost: Money) -> Option<Number> {
        (!cost.is_zero()).then(|| self.number(cost))
    }
}
