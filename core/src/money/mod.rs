//! Money of the network's one currency, in whole ten-thousandths of its major unit.
//!
//! Four places hold every minor unit of ISO 4217 and still add up exactly; a price of a gram needs
//! more, and is a [`UnitPrice`].

mod currency;

use std::iter::Sum;
use std::ops::{Add, AddAssign, Neg, Sub, SubAssign};

use rust_decimal::prelude::ToPrimitive;
use rust_decimal::{Decimal, RoundingStrategy};
use serde::{Deserialize, Serialize};

use crate::quantity::{Base, decimal};

pub use currency::Currency;

/// Decimal places of [`Money`].
const PLACES: u32 = 4;

/// Why money was refused. Each message says what to send instead.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum MoneyError {
    /// Not three capital letters.
    #[error("\"{text}\" is not a currency code: use the three capital letters of ISO 4217")]
    NotACurrency {
        /// The text as it came, cut to its first 60 characters.
        text: String,
    },
    /// Past what can be kept and added exactly.
    #[error("{value} is too large for an amount of money: check the decimal point")]
    TooLarge {
        /// The value as it came.
        value: Decimal,
    },
    /// Finer than a ten-thousandth.
    #[error("{value} has too many decimals for an amount of money: {PLACES} at most")]
    TooFine {
        /// The value as it came.
        value: Decimal,
    },
    /// A price below zero.
    #[error("{value} is below zero: a price cannot be")]
    NegativePrice {
        /// The value as it came.
        value: Decimal,
    },
    /// A price for nothing.
    #[error("a price must be for some quantity above zero, not for {value}")]
    NoQuantity {
        /// The quantity as it came, in base units.
        value: Decimal,
    },
}

/// Whole ten-thousandths of the currency's major unit. It may be below zero. JSON: a decimal
/// string; what is read may have four decimals at most, since what was typed is not to be changed.
///
/// Sums of whole numbers come out the same in any order. A sum that leaves the range of 64 bits
/// panics rather than wrap round.
///
/// ```
/// use parings_core::money::{Currency, Money};
///
/// let bag = Money::from_decimal("12.4050".parse().unwrap()).unwrap();
/// assert_eq!((bag + bag).to_decimal().to_string(), "24.81");
/// assert_eq!(bag.shown(&Currency::new("EUR").unwrap()).to_string(), "12.40");
/// ```
#[derive(
    Debug, Clone, Copy, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize,
)]
#[serde(try_from = "JsonDecimal", into = "JsonDecimal")]
pub struct Money(i64);

/// An amount of money as JSON has it: a decimal string, not yet checked.
#[derive(Serialize, Deserialize)]
#[serde(transparent)]
struct JsonDecimal(#[serde(with = "decimal")] Decimal);

impl TryFrom<JsonDecimal> for Money {
    type Error = MoneyError;
    fn try_from(JsonDecimal(value): JsonDecimal) -> Result<Self, MoneyError> {
        if value.normalize().scale() > PLACES {
            return Err(MoneyError::TooFine { value });
        }
        Self::from_decimal(value)
    }
}

impl From<Money> for JsonDecimal {
    fn from(money: Money) -> Self {
        Self(money.to_decimal())
    }
}

impl Money {
    /// No money at all; [`Money::ZERO`] plus an amount is that amount.
    pub const ZERO: Self = Self(0);

    /// An amount in the major unit, rounded to four places, a half to the even neighbour.
    ///
    /// # Errors
    /// [`MoneyError::TooLarge`] past 64 bits of ten-thousandths (about 9 × 10¹⁴).
    pub fn from_decimal(value: Decimal) -> Result<Self, MoneyError> {
        half_even(value, PLACES)
            .checked_mul(Decimal::from(10_000))
            .and_then(|whole| whole.to_i64())
            .map(Self)
            .ok_or(MoneyError::TooLarge { value })
    }

    /// The amount in major units, exactly, without zeros at its end.
    pub fn to_decimal(self) -> Decimal {
        Decimal::new(self.0, PLACES).normalize()
    }

    /// An amount of so many ten-thousandths of the major unit.
    pub fn from_ten_thousandths(ten_thousandths: i64) -> Self {
        Self(ten_thousandths)
    }

    /// Ten-thousandths of the major unit.
    pub fn ten_thousandths(self) -> i64 {
        self.0
    }

    /// Whether it is nothing at all.
    pub fn is_zero(self) -> bool {
        self.0 == 0
    }

    /// The amount as people see it: rounded to the currency's minor unit, a half to the even
    /// neighbour, with all its places. For display only: sums are made of what was not rounded.
    pub fn shown(self, currency: &Currency) -> Decimal {
        let mut shown = half_even(Decimal::new(self.0, PLACES), currency.exponent());
        shown.rescale(currency.exponent());
        if shown.is_zero() { shown.abs() } else { shown }
    }
}

fn half_even(value: Decimal, places: u32) -> Decimal {
    value.round_dp_with_strategy(places, RoundingStrategy::MidpointNearestEven)
}

impl Add for Money {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        Self(self.0.checked_add(other.0).expect("a sum of money fits 64 bits"))
    }
}

impl Sub for Money {
    type Output = Self;
    fn sub(self, other: Self) -> Self {
        Self(self.0.checked_sub(other.0).expect("a difference of money fits 64 bits"))
    }
}

impl Neg for Money {
    type Output = Self;
    fn neg(self) -> Self {
        Self::ZERO - self
    }
}

impl AddAssign for Money {
    fn add_assign(&mut self, other: Self) {
        *self = *self + other;
    }
}

impl SubAssign for Money {
    fn sub_assign(&mut self, other: Self) {
        *self = *self - other;
    }
}

impl Sum for Money {
    fn sum<I: Iterator<Item = Self>>(parts: I) -> Self {
        parts.fold(Self::ZERO, Add::add)
    }
}

/// Money for one base unit (g, ml, piece) of an item, to 28 digits; never below zero. JSON: a
/// decimal string.
///
/// ```
/// use parings_core::money::{Money, UnitPrice};
/// use parings_core::quantity::Base;
///
/// // A 22.7 kg bag at 20.40 (invented worked example); 266 kg used.
/// let bag = Money::from_decimal("20.40".parse().unwrap()).unwrap();
/// let price = UnitPrice::per(bag, Base::new(22_700.into())).unwrap();
/// let used = price.of(Base::new(266_000.into()));
/// assert_eq!(used.to_decimal().to_string(), "239.0485");
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(try_from = "JsonDecimal", into = "JsonDecimal")]
pub struct UnitPrice(Decimal);

impl TryFrom<JsonDecimal> for UnitPrice {
    type Error = MoneyError;
    fn try_from(JsonDecimal(value): JsonDecimal) -> Result<Self, MoneyError> {
        Self::new(value)
    }
}

impl From<UnitPrice> for JsonDecimal {
    fn from(price: UnitPrice) -> Self {
        Self(price.0)
    }
}

impl UnitPrice {
    /// A price of so much for one base unit, in the major unit.
    ///
    /// # Errors
    /// [`MoneyError::NegativePrice`].
    pub fn new(value: Decimal) -> Result<Self, MoneyError> {
        if value < Decimal::ZERO {
            return Err(MoneyError::NegativePrice { value });
        }
        Ok(Self(value))
    }

    /// A price of so much for a quantity: the price of a bag over what is in it.
    ///
    /// # Errors
    /// [`MoneyError::NegativePrice`], [`MoneyError::NoQuantity`] for a quantity of zero or below,
    /// [`MoneyError::TooLarge`] past 28 digits.
    pub fn per(price: Money, quantity: Base) -> Result<Self, MoneyError> {
        if quantity <= Base::ZERO {
            return Err(MoneyError::NoQuantity { value: quantity.value() });
        }
        let price = price.to_decimal();
        let value =
            price.checked_div(quantity.value()).ok_or(MoneyError::TooLarge { value: price })?;
        Self::new(value)
    }

    /// Money for one base unit.
    pub fn value(self) -> Decimal {
        self.0
    }

    /// What a quantity costs: the product to 28 digits, then rounded once to a ten-thousandth. A
    /// quantity below zero costs less than nothing.
    ///
    /// # Errors
    /// [`MoneyError::TooLarge`] where the product does not fit [`Money`].
    pub fn try_of(self, quantity: Base) -> Result<Money, MoneyError> {
        let product = self.0.checked_mul(quantity.value());
        product
            .ok_or(MoneyError::TooLarge { value: quantity.value() })
            .and_then(Money::from_decimal)
    }

    /// [`try_of`](Self::try_of) for a price and a quantity that passed the checks of their inputs.
    ///
    /// # Panics
    /// Where the product does not fit [`Money`]: a wrong sum must not go on.
    pub fn of(self, quantity: Base) -> Money {
        self.try_of(quantity).expect("the cost of a checked quantity fits 64 bits")
    }
}

#[cfg(test)]
mod tests;
