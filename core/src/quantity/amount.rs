//! What was typed, and what it is in a base unit.

use std::fmt;

use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};

use super::{Base, Dimension, QuantityError, Unit, decimal};

/// Decimals a quantity may have: a microgram in a gram.
const PLACES: u32 = 6;

/// A non-negative amount in a standard unit, as somebody typed it: at most six decimals, at most
/// 10⁹ of the unit. JSON: `{"value":"18.5","unit":"kg"}`.
///
/// ```
/// use parings_core::quantity::{Quantity, Unit};
///
/// let tub = Quantity::new("2.50".parse().unwrap(), Unit::Kilogram).unwrap();
/// assert_eq!(tub.to_string(), "2.50 kg");
/// assert_eq!(tub.amount().base().normalize().to_string(), "2500");
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(try_from = "RawQuantity")]
pub struct Quantity {
    #[serde(with = "decimal")]
    value: Decimal,
    unit: Unit,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RawQuantity {
    #[serde(with = "decimal")]
    value: Decimal,
    unit: Unit,
}

impl TryFrom<RawQuantity> for Quantity {
    type Error = QuantityError;
    fn try_from(raw: RawQuantity) -> Result<Self, QuantityError> {
        Self::new(raw.value, raw.unit)
    }
}

impl Quantity {
    /// The largest value of any quantity, whatever its unit.
    pub const MAX: Decimal = Decimal::from_parts(1_000_000_000, 0, 0, false, 0);

    /// A quantity of so much in a unit.
    ///
    /// # Errors
    /// [`QuantityError::Negative`], [`QuantityError::TooLarge`], [`QuantityError::TooFine`].
    pub fn new(value: Decimal, unit: Unit) -> Result<Self, QuantityError> {
        if value < Decimal::ZERO {
            return Err(QuantityError::Negative { value });
        }
        if value > Self::MAX {
            return Err(QuantityError::TooLarge { value });
        }
        if value.normalize().scale() > PLACES {
            return Err(QuantityError::TooFine { value, places: PLACES });
        }
        let kept = if value.scale() > PLACES { value.round_dp(PLACES) } else { value };
        Ok(Self { value: decimal::unsigned_zero(kept), unit })
    }

    /// The value, with the places it was typed with.
    pub fn value(self) -> Decimal {
        self.value
    }

    /// The unit that the value counts.
    pub fn unit(self) -> Unit {
        self.unit
    }

    /// The same in the base unit of its dimension, exactly: at most 16 digits times a factor of
    /// at most 12 always fits.
    pub fn amount(self) -> Amount {
        Amount { dimension: self.unit.dimension(), base: self.value * self.unit.factor() }
    }
}

impl fmt::Display for Quantity {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} {}", self.value, self.unit)
    }
}

/// An exact amount of a dimension in its base unit (g, ml, pieces). It may be below zero, as a
/// difference can be. JSON: `{"dimension":"mass","base":"8391.458845"}`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Amount {
    dimension: Dimension,
    #[serde(with = "decimal")]
    base: Decimal,
}

impl Amount {
    /// An amount of so many base units of a dimension.
    pub fn new(dimension: Dimension, base: Decimal) -> Self {
        Self { dimension, base }
    }

    /// Whether it is a mass, a volume or a count.
    pub fn dimension(self) -> Dimension {
        self.dimension
    }

    /// The value in g, ml or pieces.
    pub fn base(self) -> Decimal {
        self.base
    }

    /// The value in a unit of the same dimension. A quotient that does not end is rounded at 28
    /// digits; what came from a [`Quantity`] of that unit comes back exactly.
    ///
    /// # Errors
    /// [`QuantityError::OtherDimension`] for a unit of another dimension,
    /// [`QuantityError::TooLarge`] past 28 digits.
    ///
    /// ```
    /// use parings_core::quantity::{Quantity, Unit};
    ///
    /// let sauce = Quantity::new("0.5".parse().unwrap(), Unit::Gallon).unwrap().amount();
    /// assert_eq!(sauce.in_unit(Unit::Cup).unwrap().to_string(), "8");
    /// assert!(sauce.in_unit(Unit::Gram).is_err());
    /// ```
    pub fn in_unit(self, unit: Unit) -> Result<Decimal, QuantityError> {
        self.expect(unit.dimension())?;
        self.base.checked_div(unit.factor()).ok_or(QuantityError::TooLarge { value: self.base })
    }

    /// The amount as a [`Base`] of an item that is kept in `dimension`.
    ///
    /// # Errors
    /// [`QuantityError::OtherDimension`]; bring it over with a [`Bridge`](super::Bridge) first.
    pub fn to_base(self, dimension: Dimension) -> Result<Base, QuantityError> {
        self.expect(dimension)?;
        Ok(Base::new(self.base))
    }

    fn expect(self, wanted: Dimension) -> Result<(), QuantityError> {
        if self.dimension == wanted {
            Ok(())
        } else {
            Err(QuantityError::OtherDimension { wanted, found: self.dimension })
        }
    }
}

macro_rules! measured {
    ($($(#[$doc:meta])* $name:ident;)*) => {$(
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
        #[serde(transparent)]
        pub struct $name(#[serde(with = "decimal")] Decimal);

        impl $name {
            /// So many base units.
            pub fn new(base: Decimal) -> Self {
                Self(base)
            }

            /// The value in base units.
            pub fn value(self) -> Decimal {
                self.0
            }
        }

        impl From<$name> for Amount {
            fn from(measured: $name) -> Self {
                Self::new(Dimension::$name, measured.0)
            }
        }

        impl TryFrom<Amount> for $name {
            type Error = QuantityError;
            fn try_from(amount: Amount) -> Result<Self, QuantityError> {
                amount.expect(Dimension::$name)?;
                Ok(Self(amount.base))
            }
        }
    )*};
}

measured! {
    /// An [`Amount`] that is known to be a mass, in grams. JSON: a decimal string.
    ///
    /// ```
    /// use parings_core::quantity::{Mass, Quantity, Unit};
    ///
    /// let patty = Quantity::new("0.25".parse().unwrap(), Unit::Pound).unwrap();
    /// assert_eq!(Mass::try_from(patty.amount()).unwrap().value().to_string(), "113.3980925");
    /// ```
    Mass;
    /// An [`Amount`] that is known to be a volume, in millilitres. JSON: a decimal string.
    Volume;
    /// An [`Amount`] that is known to be a count of pieces. JSON: a decimal string.
    Count;
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;
    use proptest::sample::select;

    fn d(text: &str) -> Decimal {
        text.parse().expect(text)
    }

    #[test]
    fn an_amount_is_read_in_its_own_dimension_alone() {
        let kilograms = Amount::new(Dimension::Mass, d("1500"));
        assert_eq!(kilograms.in_unit(Unit::Kilogram), Ok(d("1.5")));
        assert_eq!(kilograms.to_base(Dimension::Mass), Ok(Base::new(d("1500"))));
        let (wanted, found) = (Dimension::Volume, Dimension::Mass);
        let other = QuantityError::OtherDimension { wanted, found };
        assert_eq!(kilograms.in_unit(Unit::Litre), Err(other.clone()));
        assert_eq!(kilograms.to_base(Dimension::Volume), Err(other));
    }

    #[test]
    fn a_quantity_is_checked_wherever_it_comes_from() {
        for (value, ok) in [
            ("0", true),
            ("0.000001", true),
            ("1.5000000000", true),
            ("999999999.999999", true),
            ("1000000000", true),
            ("1000000000.000001", false),
            ("-0.1", false),
            ("0.0000001", false),
        ] {
            let json = format!("{{\"value\":\"{value}\",\"unit\":\"kg\"}}");
            assert_eq!(Quantity::new(d(value), Unit::Kilogram).is_ok(), ok, "{value}");
            assert_eq!(serde_json::from_str::<Quantity>(&json).is_ok(), ok, "{json}");
        }
    }

    #[test]
    fn a_quantity_keeps_what_was_typed() {
        let typed: Quantity = serde_json::from_str(r#"{"value":18.5,"unit":"kg"}"#).unwrap();
        assert_eq!(serde_json::to_string(&typed).unwrap(), r#"{"value":"18.5","unit":"kg"}"#);
        for bad in [
            r#"{"value":"1"}"#,
            r#"{"unit":"kg"}"#,
            r#"{"value":"1","unit":"bag"}"#,
            r#"{"value":"1","unit":"kg","note":"x"}"#,
        ] {
            assert!(serde_json::from_str::<Quantity>(bad).is_err(), "{bad}");
        }
    }

    proptest! {
        #[test]
        fn every_unit_goes_to_its_base_and_back_exactly(
            millionths in 0_i64..=1_000_000_000_000_000, unit in select(Unit::ALL),
        ) {
            let typed = Quantity::new(Decimal::new(millionths, PLACES), unit).unwrap();
            prop_assert_eq!(typed.amount().in_unit(unit).unwrap(), typed.value());
            // Exactness, checked in whole numbers: value × factor without any rounding.
            let factor = unit.factor();
            let product = i128::from(millionths) * factor.mantissa();
            let whole = typed.amount().base();
            let scale = PLACES + factor.scale();
            prop_assert_eq!(whole, Decimal::from_i128_with_scale(product, scale));
        }

        #[test]
        fn json_gives_back_the_same(millionths in 0_i64..=1_000_000_000_000_000, unit in select(Unit::ALL)) {
            let typed = Quantity::new(Decimal::new(millionths, PLACES), unit).unwrap();
            let json = serde_json::to_string(&typed).unwrap();
            prop_assert_eq!(serde_json::from_str::<Quantity>(&json).unwrap(), typed);
            let amount = typed.amount();
            let json = serde_json::to_string(&amount).unwrap();
            prop_assert_eq!(serde_json::from_str::<Amount>(&json).unwrap(), amount);
        }
    }
}
