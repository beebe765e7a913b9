//! One item's amounts: exact while the rules work, whole thousandths once they are tallied.

use std::iter::Sum;
use std::ops::{Add, AddAssign, Mul, Neg, Sub, SubAssign};

use rust_decimal::prelude::ToPrimitive;
use rust_decimal::{Decimal, RoundingStrategy};
use serde::{Deserialize, Serialize};

use super::{QuantityError, decimal};

/// An exact amount in the base unit of one item (g, ml or pieces: the item decides). It may be
/// below zero. Amounts of different items must never meet in one sum. JSON: a decimal string.
///
/// Arithmetic keeps 28 digits. What came from checked quantities is far from the end of that
/// range; a sum or product that leaves it panics rather than go on with a wrong number.
///
/// ```
/// use parings_core::quantity::Base;
///
/// // Opening + received + transferred in − closing of one span, in grams (invented worked example).
/// let grams = |value: i64| Base::new(value.into());
/// let used = grams(148_000) + grams(226_800) + grams(22_700) - grams(131_500);
/// assert_eq!(used, grams(266_000));
/// ```
#[derive(
    Debug, Clone, Copy, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize,
)]
#[serde(transparent)]
pub struct Base(#[serde(with = "decimal")] Decimal);

impl Base {
    /// An amount of nothing.
    pub const ZERO: Self = Self(Decimal::ZERO);

    /// An amount of so many base units.
    pub fn new(value: Decimal) -> Self {
        Self(value)
    }

    /// The value in base units.
    pub fn value(self) -> Decimal {
        self.0
    }

    /// Whether it is nothing at all.
    pub fn is_zero(self) -> bool {
        self.0.is_zero()
    }

    /// Rounds to whole thousandths, a half to the even neighbour, as is done once per store, night
    /// and item. Half-even keeps many roundings from leaning to one side.
    ///
    /// # Errors
    /// [`QuantityError::TooLarge`] past 10¹² base units (a million tonnes), so that thousands of
    /// such tallies still add up.
    ///
    /// ```
    /// use parings_core::quantity::Base;
    ///
    /// let settle = |text: &str| Base::new(text.parse().unwrap()).settle().unwrap().thousandths();
    /// assert_eq!(settle("8391.458845"), 8_391_459);
    /// assert_eq!(settle("0.0005"), 0);
    /// assert_eq!(settle("0.0015"), 2);
    /// ```
    pub fn settle(self) -> Result<Tallied, QuantityError> {
        let refused = QuantityError::TooLarge { value: self.0 };
        if self.0.abs() > Tallied::SETTLED_MAX {
            return Err(refused);
        }
        let rounded = self.0.round_dp_with_strategy(3, RoundingStrategy::MidpointNearestEven);
        (rounded * Decimal::ONE_THOUSAND).to_i64().map(Tallied).ok_or(refused)
    }
}

impl Add for Base {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        Self(self.0 + other.0)
    }
}

impl Sub for Base {
    type Output = Self;
    fn sub(self, other: Self) -> Self {
        Self(self.0 - other.0)
    }
}

impl Neg for Base {
    type Output = Self;
    fn neg(self) -> Self {
        Self::ZERO - self
    }
}

impl Mul<Decimal> for Base {
    type Output = Self;
    fn mul(self, times: Decimal) -> Self {
        Self(self.0 * times)
    }
}

/// Whole thousandths of one item's base unit: what is stored, and what merges. Sums of whole
/// numbers come out the same in any order and grouping. JSON: a decimal string in base units.
///
/// A sum that leaves the range of 64 bits panics rather than wrap round.
///
/// ```
/// use parings_core::quantity::Tallied;
///
/// let week: Tallied = [8_391_459, 7_904_120].map(Tallied::from_thousandths).into_iter().sum();
/// assert_eq!(week.base().value().to_string(), "16295.579");
/// ```
///
/// Ratios are made at the end, from sums, and are no tallies:
///
/// ```compile_fail
/// use parings_core::quantity::Tallied;
/// let share = Tallied::from_thousandths(1) / Tallied::from_thousandths(2);
/// ```
#[derive(
    Debug, Clone, Copy, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize,
)]
#[serde(try_from = "Base", into = "Base")]
pub struct Tallied(i64);

impl Tallied {
    /// An amount of nothing.
    pub const ZERO: Self = Self(0);

    /// The most base units that [`Base::settle`] lets into one tally.
    pub const SETTLED_MAX: Decimal = Decimal::from_parts(3_567_587_328, 232, 0, false, 0);

    /// An amount of so many thousandths of a base unit.
    pub fn from_thousandths(thousandths: i64) -> Self {
        Self(thousandths)
    }

    /// Thousandths of a base unit.
    pub fn thousandths(self) -> i64 {
        self.0
    }

    /// The same in base units, exactly.
    pub fn base(self) -> Base {
        Base(Decimal::new(self.0, 3).normalize())
    }

    /// Whether it is nothing at all.
    pub fn is_zero(self) -> bool {
        self.0 == 0
    }
}

impl TryFrom<Base> for Tallied {
    type Error = QuantityError;
    /// Takes whole thousandths; anything finer was never tallied.
    fn try_from(base: Base) -> Result<Self, QuantityError> {
        let value = base.0;
        if value.normalize().scale() > 3 {
            return Err(QuantityError::TooFine { value, places: 3 });
        }
        value
            .checked_mul(Decimal::ONE_THOUSAND)
            .and_then(|thousandths| thousandths.to_i64())
            .map(Self)
            .ok_or(QuantityError::TooLarge { value })
    }
}

impl From<Tallied> for Base {
    fn from(tallied: Tallied) -> Self {
        tallied.base()
    }
}

impl Add for Tallied {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        Self(self.0.checked_add(other.0).expect("a sum of tallies fits 64 bits"))
    }
}

impl Sub for Tallied {
    type Output = Self;
    fn sub(self, other: Self) -> Self {
        Self(self.0.checked_sub(other.0).expect("a difference of tallies fits 64 bits"))
    }
}

impl Neg for Tallied {
    type Output = Self;
    fn neg(self) -> Self {
        Self::ZERO - self
    }
}

macro_rules! sums {
    ($($name:ident)*) => {$(
        impl AddAssign for $name {
            fn add_assign(&mut self, other: Self) {
                *self = *self + other;
            }
        }

        impl SubAssign for $name {
            fn sub_assign(&mut self, other: Self) {
                *self = *self - other;
            }
        }

        impl Sum for $name {
            fn sum<I: Iterator<Item = Self>>(parts: I) -> Self {
                parts.fold(Self::ZERO, Add::add)
            }
        }
    )*};
}

sums! { Base Tallied }

#[cfg(test)]
mod tests;
