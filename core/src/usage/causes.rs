use rust_decimal::Decimal;

use super::Samples;
use crate::quantity::Tallied;
use crate::stats::StdDev;

/// An amount that is known only so well.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Estimate {
    /// The amount that is estimated.
    pub amount: Tallied,
    /// How far it may be off, one standard deviation, in the amount's base unit; none when nobody
    /// can tell.
    pub sd: Option<StdDev>,
}

/// A variance by cause, in physical order. Negative parts stay negative.
///
/// The loss in the last cooking is rarely weighed; what of it differs from the standard hides in
/// the last two parts.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Causes {
    /// What was used less what sales should have used.
    pub variance: Estimate,
    /// Written down as thrown away.
    pub waste: Tallied,
    /// Lost in batches beyond the standard yield.
    pub yield_loss: Tallied,
    /// Served beyond the recipe, as samples say; none without samples.
    pub over_portioning: Option<Estimate>,
    /// What is left of the variance when every other cause is taken off.
    pub unexplained: Estimate,
}

impl Causes {
    /// Splits a variance. `expected` is what sales should have used; `count_sd` is the error of the
    /// two counts together.
    ///
    /// ```
    /// use parings_core::quantity::{Base, Tallied};
    /// use parings_core::stats::StdDev;
    /// use parings_core::usage::{Causes, Samples};
    /// // One invented night: 20 portions, 2.0 % over with a spread of 8 %; 2 kg of error a count.
    /// let mut samples = Samples::default();
    /// for sign in [1, -1].repeat(10) {
    ///     let weight = 102_000_000 + sign * 7_797_435;
    ///     samples.add(Base::new(weight.into()), Base::new(100_000_000.into()));
    /// }
    /// let kg = |tenths: i64| Tallied::from_thousandths(tenths * 100_000);
    /// let two_kg = StdDev::new(2_000.0).unwrap();
    /// let causes = Causes::split(kg(216), kg(2444), kg(103), kg(40), &samples, Some(two_kg.and(two_kg)));
    /// let shown = |amount: Tallied| amount.base().value() / rust_decimal::Decimal::from(1000);
    /// assert_eq!(shown(causes.over_portioning.unwrap().amount).round_dp(1).to_string(), "4.9");
    /// assert_eq!(shown(causes.unexplained.amount).round_dp(1).to_string(), "2.4");
    /// assert_eq!((causes.unexplained.sd.unwrap().value() / 100.0).round(), 52.0); // ± 5.2 kg
    /// ```
    pub fn split(
        variance: Tallied,
        expected: Tallied,
        waste: Tallied,
        yield_loss: Tallied,
        samples: &Samples,
        count_sd: Option<StdDev>,
    ) -> Self {
        let over_portioning = samples.mean().and_then(|mean| {
            let over = expected.base() * (mean - Decimal::ONE);
            let sd = samples.standard_error().and_then(|e| e.times(in_base(expected).abs()).ok());
            Some(Estimate { amount: over.settle().ok()?, sd })
        });
        let rest = variance - waste - yield_loss;
        let unexplained = match &over_portioning {
            None => Estimate { amount: rest, sd: count_sd },
            Some(over) => Estimate {
                amount: rest - over.amount,
                sd: count_sd.zip(over.sd).map(|(counts, portions)| counts.and(portions)),
            },
        };
        let variance = Estimate { amount: variance, sd: count_sd };
        Self { variance, waste, yield_loss, over_portioning, unexplained }
    }
}

#[expect(clippy::cast_precision_loss, reason = "statistics")]
fn in_base(amount: Tallied) -> f64 {
    amount.thousandths() as f64 / 1000.0
}
