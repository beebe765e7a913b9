use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};

use super::YieldError;
use crate::quantity::Base;

/// Weight out ÷ weight in of one stage: more than 0, at most 2; a decimal string in JSON.
///
/// ```
/// use parings_core::yields::Yield;
/// let trim: Yield = serde_json::from_str("\"0.90\"").unwrap();
/// assert_eq!(serde_json::to_string(&trim).unwrap(), "\"0.90\"");
/// assert!(Yield::new("0".parse().unwrap()).is_err());
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(try_from = "Decimal", into = "Decimal")]
pub struct Yield(Decimal);

impl Yield {
    /// A yield of more than 0 and at most 2; else [`YieldError::Yield`].
    pub fn new(ratio: Decimal) -> Result<Self, YieldError> {
        if ratio > Decimal::ZERO && ratio <= Decimal::TWO {
            Ok(Self(ratio))
        } else {
            Err(YieldError::Yield)
        }
    }

    /// The ratio out ÷ in.
    pub fn decimal(self) -> Decimal {
        self.0
    }
}

impl TryFrom<Decimal> for Yield {
    type Error = YieldError;
    fn try_from(ratio: Decimal) -> Result<Self, YieldError> {
        Self::new(ratio)
    }
}

impl From<Yield> for Decimal {
    fn from(ratio: Yield) -> Self {
        ratio.0
    }
}

/// A product of yields: weight at some stage ÷ weight as purchased. More than 0.
///
/// Its own type, because a product may pass bounds that hold for every single stage.
///
/// ```
/// use parings_core::quantity::Base;
/// use parings_core::yields::{Cumulative, Yield};
/// // 5 lb of trimmed broccoli at a yield of 0.81 takes 6.17 lb as purchased.
/// let broccoli = Cumulative::from(Yield::new("0.81".parse().unwrap()).unwrap());
/// let bought = broccoli.as_purchased(Base::new(5.into())).unwrap();
/// assert_eq!(bought.value().round_dp(2).to_string(), "6.17");
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Cumulative(Decimal);

impl Cumulative {
    /// As purchased: nothing done yet.
    pub const AS_PURCHASED: Self = Self(Decimal::ONE);

    /// A positive ratio; else [`YieldError::Range`].
    pub(super) fn new(ratio: Decimal) -> Result<Self, YieldError> {
        if ratio > Decimal::ZERO { Ok(Self(ratio)) } else { Err(YieldError::Range) }
    }

    /// One stage further. [`YieldError::Range`] when the product cannot be kept.
    ///
    /// ```
    /// use parings_core::yields::{Cumulative, Yield};
    /// let stage = |text: &str| Yield::new(text.parse().unwrap()).unwrap();
    /// let washed = Cumulative::from(stage("0.90")).then(stage("0.99")).unwrap();
    /// assert_eq!(washed.decimal(), "0.891".parse().unwrap());
    /// ```
    pub fn then(self, stage: Yield) -> Result<Self, YieldError> {
        Self::new(self.0.checked_mul(stage.0).ok_or(YieldError::Range)?)
    }

    /// The ratio to as purchased.
    pub fn decimal(self) -> Decimal {
        self.0
    }

    /// What an amount here was as purchased: amount ÷ yield. [`YieldError::Range`] when too large.
    pub fn as_purchased(self, here: Base) -> Result<Base, YieldError> {
        here.value().checked_div(self.0).map(Base::new).ok_or(YieldError::Range)
    }

    /// What an amount as purchased comes to here: amount × yield. [`YieldError::Range`] when too
    /// large.
    ///
    /// ```
    /// use parings_core::quantity::Base;
    /// use parings_core::yields::{Cumulative, Yield};
    /// let turkey = Cumulative::from(Yield::new("0.47".parse().unwrap()).unwrap());
    /// assert_eq!(turkey.of_purchased(Base::new(36.into())).unwrap().value().to_string(), "16.92");
    /// ```
    pub fn of_purchased(self, bought: Base) -> Result<Base, YieldError> {
        bought.value().checked_mul(self.0).map(Base::new).ok_or(YieldError::Range)
    }
}

impl From<Yield> for Cumulative {
    fn from(stage: Yield) -> Self {
        Self(stage.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn one(text: &str) -> Cumulative {
        Yield::new(text.parse().unwrap()).unwrap().into()
    }

    /// Source: culinary-mathematics teaching pages and W. Gisslen, Professional Cooking (2014),
    /// section on trimming loss (read in pages). AP = EP ÷ yield, EP = AP × yield, in pounds.
    #[test]
    fn as_purchased_and_edible_portion() {
        for (food, ratio, edible, bought, places) in
            [("broccoli", "0.81", "5", "6.17", 2), ("cabbage", "0.79", "20", "25.3", 1)]
        {
            let found = one(ratio).as_purchased(Base::new(edible.parse().unwrap())).unwrap();
            assert_eq!(found.value().round_dp(places), bought.parse().unwrap(), "{food}");
        }
        for (food, ratio, bought, edible) in [
            ("turkey", "0.47", "36", "16.92"),
            ("potatoes, Brussels sprouts", "0.8", "10", "8"),
            ("green beans", "0.88", "20", "17.6"),
        ] {
            let found = one(ratio).of_purchased(Base::new(bought.parse().unwrap())).unwrap();
            assert_eq!(found.value(), edible.parse().unwrap(), "{food}");
        }
    }

    #[test]
    fn a_yield_is_more_than_0_and_at_most_2() {
        for good in ["0.0001", "1", "1.06", "2"] {
            assert_eq!(Yield::new(good.parse().unwrap()).unwrap().decimal().to_string(), good);
        }
        for bad in ["0", "-0.9", "2.0001"] {
            assert_eq!(Yield::new(bad.parse().unwrap()), Err(YieldError::Yield), "{bad}");
        }
        let from_number: Yield = serde_json::from_str("0.78").unwrap();
        assert_eq!(from_number, Yield::new("0.78".parse().unwrap()).unwrap());
        assert!(serde_json::from_str::<Yield>("\"2.1\"").is_err());
    }

    #[test]
    fn what_cannot_be_kept_is_an_error_not_a_panic() {
        assert_eq!(one("0.5").as_purchased(Base::new(Decimal::MAX)), Err(YieldError::Range));
        assert_eq!(one("2").of_purchased(Base::new(Decimal::MAX)), Err(YieldError::Range));
        let least = Yield::new(Decimal::new(1, 28)).unwrap();
        assert_eq!(Cumulative::from(least).then(least), Err(YieldError::Range));
    }
}
