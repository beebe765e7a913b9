//! The end of a calculation.

use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};

use super::decimal;

/// A quotient that keeps where it came from. Ratios are made once, from sums, and do not add: the
/// ratio of a week is not the sum or the mean of the ratios of its nights.
///
/// ```
/// use parings_core::quantity::Ratio;
///
/// // Variance over theoretical usage, in kg (invented worked example).
/// let variance = Ratio::new("21.6".parse().unwrap(), "244.4".parse().unwrap());
/// assert_eq!(variance.percent().unwrap().round_dp(1).to_string(), "8.8");
/// assert_eq!(Ratio::new(1.into(), 0.into()).value(), None);
/// ```
///
/// ```compile_fail
/// use parings_core::quantity::Ratio;
/// let sum = Ratio::new(1.into(), 2.into()) + Ratio::new(1.into(), 3.into());
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Ratio {
    /// The number above the line.
    #[serde(with = "decimal")]
    pub numerator: Decimal,
    /// The number below the line.
    #[serde(with = "decimal")]
    pub denominator: Decimal,
}

impl Ratio {
    /// The ratio of one sum over another.
    pub fn new(numerator: Decimal, denominator: Decimal) -> Self {
        Self { numerator, denominator }
    }

    /// The quotient, rounded at 28 digits; none over zero, or where it does not fit.
    pub fn value(self) -> Option<Decimal> {
        self.numerator.checked_div(self.denominator)
    }

    /// The quotient in hundredths; none where [`value`](Self::value) has none.
    pub fn percent(self) -> Option<Decimal> {
        self.value()?.checked_mul(Decimal::ONE_HUNDRED)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_ratio_has_a_value_only_over_something() {
        let ratio = |n: &str, d: &str| Ratio::new(n.parse().unwrap(), d.parse().unwrap());
        // Food cost over net sales of the invented worked example: 9,520 / 33,600 = 28.3 %.
        let cost = ratio("9520", "33600").percent().unwrap();
        assert_eq!(cost.round_dp(1), Decimal::new(283, 1));
        assert_eq!(ratio("0", "5").value(), Some(Decimal::ZERO));
        assert_eq!(ratio("0", "0").value(), None);
        assert_eq!(ratio("-3", "0").percent(), None);
        assert_eq!(ratio("79228162514264337593543950335", "0.1").value(), None);
    }

    #[test]
    fn a_ratio_shows_where_it_came_from() {
        let json = r#"{"numerator":"21.6","denominator":"244.4"}"#;
        let ratio: Ratio = serde_json::from_str(json).unwrap();
        assert_eq!(serde_json::to_string(&ratio).unwrap(), json);
    }
}
