use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};

use super::{Yield, YieldError};
use crate::quantity::Base;
use crate::stats::Grade;

/// The yield of one batch: weight out ÷ weight in.
///
/// [`YieldError::Batch`] when nothing went in or less than nothing came out; [`YieldError::Yield`]
/// when nothing at all came out or more than twice what went in. Both weights stay facts all the
/// same: an error is a reason to ask, not to lose them.
///
/// ```
/// use parings_core::quantity::Base;
/// use parings_core::yields::batch_yield;
/// // 20.2 kg of strips in, 15.8 kg of blanched out
/// let found = batch_yield(Base::new(20_200.into()), Base::new(15_800.into())).unwrap();
/// assert_eq!(found.decimal().round_dp(3).to_string(), "0.782");
/// ```
pub fn batch_yield(input: Base, output: Base) -> Result<Yield, YieldError> {
    if input.value() <= Decimal::ZERO || output.value() < Decimal::ZERO {
        return Err(YieldError::Batch);
    }
    Yield::new(output.value().checked_div(input.value()).ok_or(YieldError::Yield)?)
}

/// Percentage points, 0 or more; a decimal string in JSON.
///
/// ```
/// use parings_core::yields::Points;
/// assert!(Points::new(3.into()).is_ok());
/// assert!(Points::new((-3).into()).is_err());
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(try_from = "Decimal", into = "Decimal")]
pub struct Points(Decimal);

impl Points {
    /// Points of 0 or more; else [`YieldError::Setting`].
    pub fn new(points: Decimal) -> Result<Self, YieldError> {
        if points >= Decimal::ZERO { Ok(Self(points)) } else { Err(YieldError::Setting) }
    }

    /// The points: 3 for three points.
    pub fn decimal(self) -> Decimal {
        self.0
    }
}

impl TryFrom<Decimal> for Points {
    type Error = YieldError;
    fn try_from(points: Decimal) -> Result<Self, YieldError> {
        Self::new(points)
    }
}

impl From<Points> for Decimal {
    fn from(points: Points) -> Self {
        points.0
    }
}

/// How far a batch may lie from its standard, either way, for each word.
///
/// Starts at 3 points within and 6 near the edge: common practice, no source.
///
/// ```
/// use parings_core::{stats::Grade, yields::{GradeLimits, Yield}};
/// let ratio = |text: &str| Yield::new(text.parse().unwrap()).unwrap();
/// let limits = GradeLimits::default();
/// assert_eq!(limits.grade(ratio("0.75"), ratio("0.78")), Grade::Within);
/// assert_eq!(limits.grade(ratio("0.84"), ratio("0.78")), Grade::NearTheEdge);
/// assert_eq!(limits.grade(ratio("0.71"), ratio("0.78")), Grade::Outside);
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct GradeLimits {
    within: Points,
    near: Points,
}

impl GradeLimits {
    /// Limits for both words, each still included in its word; [`YieldError::Setting`] when `near`
    /// is less than `within`.
    pub fn new(within: Points, near: Points) -> Result<Self, YieldError> {
        if near < within { Err(YieldError::Setting) } else { Ok(Self { within, near }) }
    }

    /// The word for a batch, given the standard for its lot.
    pub fn grade(self, actual: Yield, standard: Yield) -> Grade {
        let off = (actual.decimal() - standard.decimal()).abs() * Decimal::ONE_HUNDRED;
        if off <= self.within.0 {
            Grade::Within
        } else if off <= self.near.0 {
            Grade::NearTheEdge
        } else {
            Grade::Outside
        }
    }
}

impl Default for GradeLimits {
    fn default() -> Self {
        Self { within: Points(Decimal::from(3)), near: Points(Decimal::from(6)) }
    }
}

/// How far scales may take a yield past its stage's cap before somebody is asked to weigh again.
///
/// Starts at 1 % of the cap: common practice, no source.
///
/// ```
/// use parings_core::yields::{Chain, ScaleTolerance, Yield};
/// let chain: Chain = serde_json::from_str(r#"[
///   {"code":"wash","title":"Wash","standard":"0.99","cap":"1.06","low":"0.97","high":"1.04"}
/// ]"#).unwrap();
/// let cap = chain.stages()[0].cap;
/// let ratio = |text: &str| Yield::new(text.parse().unwrap()).unwrap();
/// // Washed strips take up water: 105 % is no fault, 108 % is.
/// assert!(!ScaleTolerance::default().over_cap(ratio("1.05"), cap));
/// assert!(ScaleTolerance::default().over_cap(ratio("1.08"), cap));
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct ScaleTolerance(Points);

impl ScaleTolerance {
    /// A tolerance in per cent of the cap.
    pub fn new(percent_of_cap: Points) -> Self {
        Self(percent_of_cap)
    }

    /// Whether a batch's yield passes the most that its stages can honestly give.
    pub fn over_cap(self, actual: Yield, cap: Yield) -> bool {
        // As a difference: neither side can overflow, however small the cap or large the tolerance.
        let allowed = cap.decimal() * (self.0.decimal() / Decimal::ONE_HUNDRED);
        actual.decimal() - cap.decimal() > allowed
    }
}

impl Default for ScaleTolerance {
    fn default() -> Self {
        Self(Points(Decimal::ONE))
    }
}

#[cfg(test)]
mod tests {
    use super::super::chain::tests::potato;
    use super::*;

    fn ratio(text: &str) -> Yield {
        Yield::new(text.parse().unwrap()).unwrap()
    }

    /// Source: common practice, no source: ±3 points within, to ±6 near the edge, beyond outside.
    #[test]
    fn grades_change_just_past_their_limits() {
        for (actual, word) in [
            ("0.7800", Grade::Within),
            ("0.8100", Grade::Within),
            ("0.7500", Grade::Within),
            ("0.8101", Grade::NearTheEdge),
            ("0.7499", Grade::NearTheEdge),
            ("0.8400", Grade::NearTheEdge),
            ("0.7200", Grade::NearTheEdge),
            ("0.8401", Grade::Outside),
            ("0.7199", Grade::Outside),
        ] {
            assert_eq!(
                GradeLimits::default().grade(ratio(actual), ratio("0.78")),
                word,
                "{actual}"
            );
        }
        let points = |n: i64| Points::new(n.into()).unwrap();
        let wide = GradeLimits::new(points(5), points(8)).unwrap();
        assert_eq!(wide.grade(ratio("0.83"), ratio("0.78")), Grade::Within);
        assert_eq!(GradeLimits::new(points(6), points(3)), Err(YieldError::Setting));
    }

    #[test]
    fn points_are_written_as_they_are_read() {
        for text in ["0", "3", "0.5"] {
            let points: Points = serde_json::from_value(serde_json::json!(text)).unwrap();
            assert_eq!(points.decimal().to_string(), text);
            assert_eq!(serde_json::to_value(points).unwrap(), text);
        }
        assert!(serde_json::from_value::<Points>(serde_json::json!("-0.1")).is_err());
    }

    /// Source: common practice, no source: wash up to 1.06, every other stage up to 1.00, scales 1 %.
    #[test]
    fn only_the_wash_may_pass_a_hundred_per_cent() {
        let chain = potato();
        for (code, actual, over) in [
            ("wash", "1.06", false),
            ("wash", "1.0706", false),
            ("wash", "1.0707", true),
            ("first-fry", "1.00", false),
            ("first-fry", "1.01", false),
            ("first-fry", "1.0101", true),
        ] {
            let stage = chain.stage(&code.parse().unwrap()).unwrap();
            let found = ScaleTolerance::default().over_cap(ratio(actual), stage.cap);
            assert_eq!(found, over, "{code} {actual}");
        }
        let exact = ScaleTolerance::new(Points::new(Decimal::ZERO).unwrap());
        assert!(
            exact.over_cap(ratio("1.0001"), chain.stage(&"chill".parse().unwrap()).unwrap().cap)
        );
    }

    /// Source: USDA SR, records 11402 to 11403 (read in two copies): a 255 g package of frozen fries
    /// yields 198 g oven heated. A range only: the two solids balances of such records give 0.955
    /// and 0.704.
    #[test]
    fn a_package_of_frozen_fries_is_in_range() {
        let found = batch_yield(Base::new(255.into()), Base::new(198.into())).unwrap();
        assert!((ratio("0.704")..=ratio("0.955")).contains(&found), "{found:?}");
        let finish = potato();
        let finish = finish.stage(&"finish-fry".parse().unwrap()).unwrap();
        assert!((finish.low..=finish.high).contains(&found), "{found:?}");
    }

    #[test]
    fn what_is_no_batch_is_refused() {
        let made = |input: i64, output: i64| {
            batch_yield(Base::new(input.into()), Base::new(output.into()))
        };
        assert_eq!(made(0, 5), Err(YieldError::Batch));
        assert_eq!(made(-5, 5), Err(YieldError::Batch));
        assert_eq!(made(5, -1), Err(YieldError::Batch));
        assert_eq!(made(5, 0), Err(YieldError::Yield));
        assert_eq!(made(5, 11), Err(YieldError::Yield));
        let speck = Base::new(Decimal::new(1, 28));
        assert_eq!(batch_yield(speck, Base::new(Decimal::MAX)), Err(YieldError::Yield));
    }
}
