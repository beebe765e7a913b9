//! Figures on the wire: amounts, money, ratios and estimates, always with their unit.

use parings_core::catalog::Settings;
use parings_core::money::{Currency, Money};
use parings_core::quantity::{Amount, Dimension, Ratio, Tallied};
use parings_core::stats::StdDev;
use rust_decimal::{Decimal, RoundingStrategy};
use serde::Serialize;
use utoipa::ToSchema;

use crate::http::quantity::Number;

/// An amount, in kg, l or each.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
#[schema(example = json!({ "value": "21.583", "unit": "kg" }))]
pub struct AmountBody {
    /// The number; below zero where less was used than expected.
    pub value: Number,
    /// kg, l or each.
    pub unit: String,
}

/// How amounts of a dimension are shown: the unit, and base units in one of it.
fn shown(dimension: Dimension) -> (&'static str, Decimal) {
    match dimension {
        Dimension::Mass => ("kg", Decimal::ONE_THOUSAND),
        Dimension::Volume => ("l", Decimal::ONE_THOUSAND),
        Dimension::Count => ("each", Decimal::ONE),
    }
}

fn rounded(value: Decimal, places: u32) -> Number {
    Number(value.round_dp_with_strategy(places, RoundingStrategy::MidpointNearestEven).normalize())
}

impl AmountBody {
    /// An amount of an item of this dimension, to three decimals: grams, millilitres.
    pub fn new(amount: Tallied, dimension: Dimension) -> Self {
        Amount::new(dimension, amount.base().value()).into()
    }
}

impl AmountBody {
    /// The same to the digit, as it is tallied: thousandths of a gram, millilitre or piece.
    pub fn exact(amount: Tallied, dimension: Dimension) -> Self {
        let (unit, per) = shown(dimension);
        Self { value: Number((amount.base().value() / per).normalize()), unit: unit.to_owned() }
    }

    /// A sum of money in its currency, as it is tallied: to the ten-thousandth.
    pub fn of_money(money: Money, currency: &Currency) -> Self {
        let value = Number(money.to_decimal().normalize());
        Self { value, unit: currency.as_str().to_owned() }
    }
}

impl From<Amount> for AmountBody {
    fn from(amount: Amount) -> Self {
        let (unit, per) = shown(amount.dimension());
        Self { value: rounded(amount.base() / per, 3), unit: unit.to_owned() }
    }
}

/// One standard deviation in the unit an amount is shown in, to three decimals.
pub fn spread(sd: StdDev, dimension: Dimension) -> Option<Number> {
    let (_, per) = shown(dimension);
    Decimal::try_from(sd.value()).ok().map(|sd| rounded(sd / per, 3))
}

/// Money as the network shows it.
pub fn money(money: Money, currency: &Currency) -> Number {
    Number(money.shown(currency))
}

/// A ratio with what it is made of.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
pub struct RatioBody {
    /// Percent, to two decimals; missing when the denominator is zero.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub percent: Option<Number>,
    /// The number above the line.
    pub numerator: Number,
    /// The number below the line.
    pub denominator: Number,
}

impl RatioBody {
    /// A ratio of two amounts of one item.
    pub fn of_amounts(numerator: Tallied, denominator: Tallied, dimension: Dimension) -> Self {
        let (_, per) = shown(dimension);
        let in_unit = |amount: Tallied| rounded(amount.base().value() / per, 3);
        let ratio = Ratio::new(numerator.base().value(), denominator.base().value());
        Self::new(ratio, in_unit(numerator), in_unit(denominator))
    }

    /// A ratio of two sums of money.
    pub fn of_money(numerator: Money, denominator: Money, settings: &Settings) -> Self {
        let ratio = Ratio::new(numerator.to_decimal(), denominator.to_decimal());
        let currency = &settings.currency;
        Self::new(ratio, money(numerator, currency), money(denominator, currency))
    }

    fn new(ratio: Ratio, numerator: Number, denominator: Number) -> Self {
        let percent = ratio.percent().map(|p| rounded(p, 2));
        Self { percent, numerator, denominator }
    }
}
