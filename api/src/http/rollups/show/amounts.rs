use parings_core::quantity::{Dimension, Ratio, Tallied, Unit};
use parings_core::rollup::Rate;
use parings_core::stats::StdDev;
use parings_core::usage::{Causes as ItemCauses, Estimate};
use rust_decimal::prelude::FromPrimitive;
use rust_decimal::{Decimal, RoundingStrategy};

use crate::http::quantity::Number;
use crate::http::rollups::body::{Causes, ItemAmountBody, RateBody};

fn round(value: Decimal, places: u32) -> Decimal {
    let rounded = value.round_dp_with_strategy(places, RoundingStrategy::MidpointNearestEven);
    if rounded.is_zero() { rounded.abs() } else { rounded }
}

/// To so many places, all of them shown.
pub(super) fn fixed(value: Decimal, places: u32) -> Number {
    let mut rounded = round(value, places);
    rounded.rescale(places);
    Number(rounded)
}

pub(super) fn rate(rate: Rate, per: u32, shown: impl Fn(Decimal) -> Number) -> Option<RateBody> {
    let Ratio { numerator, denominator } = rate.ratio;
    Some(RateBody {
        value: fixed(rate.ratio.value()?.checked_mul(per.into())?, 2),
        per,
        numerator: shown(numerator),
        denominator: shown(denominator),
        nights: rate.nights,
    })
}

/// An item's amounts by their dimension, to a gram, a millilitre or a thousandth of a piece.
#[derive(Clone, Copy)]
pub(super) struct Amounts(pub Dimension);

impl Amounts {
    fn unit(self) -> Unit {
        match self.0 {
            Dimension::Mass => Unit::Kilogram,
            Dimension::Volume => Unit::Litre,
            Dimension::Count => Unit::Each,
        }
    }

    pub(super) fn number(self, base: Decimal) -> Number {
        Number(round(base / self.unit().factor(), 3).normalize())
    }

    fn sd(self, sd: Option<StdDev>) -> Option<Number> {
        Decimal::from_f64(sd?.value()).map(|sd| self.number(sd))
    }

    pub(super) fn exact(self, amount: Tallied) -> ItemAmountBody {
        self.estimated(Estimate { amount, sd: None })
    }

    pub(super) fn estimated(self, estimate: Estimate) -> ItemAmountBody {
        ItemAmountBody {
            value: self.number(estimate.amount.base().value()),
            unit: self.unit().to_string(),
            sd: self.sd(estimate.sd),
        }
    }

    pub(super) fn rate(self, made: Option<Rate>) -> Option<RateBody> {
        rate(made?, 100, |base| self.number(base))
    }

    pub(super) fn causes(self, causes: &ItemCauses) -> Causes<ItemAmountBody> {
        Causes {
            waste: self.exact(causes.waste),
            yield_loss: self.exact(causes.yield_loss),
            over_portioning: causes.over_portioning.map(|part| self.estimated(part)),
            unexplained: self.estimated(causes.unexplained),
        }
    }
}
