use rust_decimal::{Decimal, prelude::ToPrimitive};

use super::{Cumulative, YieldError};
use crate::money::UnitPrice;
use crate::quantity::Base;

/// The finished amount of one portion, in the item's base unit; more than 0.
///
/// ```
/// use parings_core::yields::PortionSize;
/// assert_eq!(PortionSize::new(150.into()).unwrap().decimal(), 150.into());
/// assert!(PortionSize::new(0.into()).is_err());
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct PortionSize(Decimal);

impl PortionSize {
    /// A portion of more than 0; else [`YieldError::Portion`].
    pub fn new(size: Decimal) -> Result<Self, YieldError> {
        if size > Decimal::ZERO { Ok(Self(size)) } else { Err(YieldError::Portion) }
    }

    /// The size in the item's base unit.
    pub fn decimal(self) -> Decimal {
        self.0
    }
}

/// A whole number of portions.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Portions(pub u64);

/// How many whole portions a finished amount gives, rounded down; none from less than nothing.
/// [`YieldError::Range`] beyond what can be counted.
///
/// ```
/// use parings_core::quantity::Base;
/// use parings_core::yields::{PortionSize, Portions, portions};
/// let size = PortionSize::new(150.into()).unwrap();
/// assert_eq!(portions(Base::new(10_397.into()), size).unwrap(), Portions(69));
/// ```
pub fn portions(finished: Base, size: PortionSize) -> Result<Portions, YieldError> {
    let whole = finished.value().max(Decimal::ZERO).checked_div(size.0).ok_or(YieldError::Range)?;
    whole.floor().to_u64().map(Portions).ok_or(YieldError::Range)
}

/// One size of a mix and how many units of it are sold.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct MixPart {
    /// How much one portion of this size is.
    pub size: PortionSize,
    /// Units sold, or any numbers in the same proportion.
    pub units: u32,
}

/// The mean portion of a mix, each size weighted by its units. [`YieldError::EmptyMix`] without a
/// unit; [`YieldError::Range`] when too large.
///
/// ```
/// use parings_core::yields::{MixPart, PortionSize, mix_weighted_size};
/// let part = |g: i64, units| MixPart { size: PortionSize::new(g.into()).unwrap(), units };
/// let mix = [part(100, 20), part(150, 20), part(200, 50), part(300, 10)];
/// assert_eq!(mix_weighted_size(&mix).unwrap(), PortionSize::new(180.into()).unwrap());
/// ```
pub fn mix_weighted_size(mix: &[MixPart]) -> Result<PortionSize, YieldError> {
    let units: Decimal = mix.iter().map(|part| Decimal::from(part.units)).sum();
    if units.is_zero() {
        return Err(YieldError::EmptyMix);
    }
    mix.iter()
        .try_fold(Decimal::ZERO, |sum, part| {
            sum.checked_add(part.size.0.checked_mul(part.units.into())?)
        })
        .and_then(|sum| sum.checked_div(units))
        .map_or(Err(YieldError::Range), PortionSize::new)
}

/// What a unit costs at a stage: its cost as purchased ÷ the yield to there.
/// [`YieldError::Range`] when too large.
///
/// ```
/// use parings_core::money::UnitPrice;
/// use parings_core::yields::{Cumulative, Yield, ep_cost};
/// let trimmed = Cumulative::from(Yield::new("0.81".parse().unwrap()).unwrap());
/// let bought = UnitPrice::new("0.80".parse().unwrap()).unwrap();
/// assert_eq!(ep_cost(bought, trimmed).unwrap().value().round_dp(2).to_string(), "0.99");
/// ```
pub fn ep_cost(ap_cost: UnitPrice, to_here: Cumulative) -> Result<UnitPrice, YieldError> {
    let edible = ap_cost.value().checked_div(to_here.decimal()).ok_or(YieldError::Range)?;
    UnitPrice::new(edible).map_err(|_| YieldError::Range)
}

#[cfg(test)]
mod tests {
    use super::super::{Yield, chain::tests::potato};
    use super::*;

    fn size(text: &str) -> PortionSize {
        PortionSize::new(text.parse().unwrap()).unwrap()
    }

    /// Source: invented worked example: a 22.68 kg bag gives 10.397 kg finished.
    #[test]
    fn portions_of_a_bag() {
        let finished = potato().total().unwrap().of_purchased(Base::new(22_680.into())).unwrap();
        assert_eq!(finished.value().round().to_string(), "10397");
        for (grams, count) in [("100", 103), ("150", 69), ("200", 51), ("300", 34)] {
            assert_eq!(portions(finished, size(grams)), Ok(Portions(count)), "{grams} g");
        }
    }

    #[test]
    fn a_portion_is_more_than_nothing() {
        assert_eq!(size("150.5").decimal().to_string(), "150.5");
        for text in ["0", "-1"] {
            assert_eq!(PortionSize::new(text.parse().unwrap()), Err(YieldError::Portion));
        }
    }

    /// Source: culinary-mathematics teaching pages (read in pages): portions round down.
    #[test]
    fn portions_round_down() {
        for (food, bought, ratio, count) in
            [("turkey", 36, "0.47", 90), ("potatoes", 10, "0.8", 42)]
        {
            let trimmed = Cumulative::from(Yield::new(ratio.parse().unwrap()).unwrap());
            let ounces = trimmed.of_purchased(Base::new((bought * 16).into())).unwrap();
            assert_eq!(portions(ounces, size("3")), Ok(Portions(count)), "{food}");
        }
        assert_eq!(portions(Base::new((-5).into()), size("3")), Ok(Portions(0)));
        assert_eq!(portions(Base::new(Decimal::MAX), size("0.1")), Err(YieldError::Range));
    }

    /// Source: invented worked example: 0.90 a kilogram as purchased is 1.963 finished, and 0.353 a
    /// portion of 180 g.
    #[test]
    fn cost_of_a_portion() {
        let bought = UnitPrice::new("0.90".parse().unwrap()).unwrap();
        let finished = ep_cost(bought, potato().total().unwrap()).unwrap().value();
        assert_eq!(finished.round_dp(3).to_string(), "1.963");
        let portion = finished * "0.180".parse::<Decimal>().unwrap();
        assert_eq!(portion.round_dp(3).to_string(), "0.353");
    }

    #[test]
    fn a_mix_without_units_has_no_size() {
        assert_eq!(mix_weighted_size(&[]), Err(YieldError::EmptyMix));
        let unsold = MixPart { size: size("100"), units: 0 };
        assert_eq!(mix_weighted_size(&[unsold]), Err(YieldError::EmptyMix));
        let huge = MixPart { size: PortionSize(Decimal::MAX), units: 2 };
        assert_eq!(mix_weighted_size(&[huge]), Err(YieldError::Range));
    }
}
