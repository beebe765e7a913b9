use super::{Cumulative, Yield, YieldError};
use crate::stats::Share;

/// Dry, non-fat matter cannot grow in the kitchen: it bounds finished ÷ raw from above.
///
/// `retained` of a lot's dry matter stays in the food; the rest goes with the wash and the oil.
/// Below the share `least` the food is too wet to sell. Starts at 0.975 and 0.33: common practice,
/// no source.
///
/// ```
/// use parings_core::{stats::Share, yields::{SolidsRule, Yield}};
/// let trim = Yield::new("0.90".parse().unwrap()).unwrap();
/// let ceiling = SolidsRule::default().ceiling(trim, Share::per_mille(210)).unwrap();
/// assert_eq!(ceiling.decimal().round_dp(3).to_string(), "0.558");
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct SolidsRule {
    retained: Share,
    least: Share,
}

impl SolidsRule {
    /// A rule of the share of dry matter that stays, and the least sellable share, more than 0;
    /// else [`YieldError::Solids`].
    pub fn new(retained: Share, least: Share) -> Result<Self, YieldError> {
        if least.decimal().is_zero() {
            Err(YieldError::Solids)
        } else {
            Ok(Self { retained, least })
        }
    }

    /// The most that finished ÷ raw can be for a lot: trim × solids × retained ÷ least. A yield
    /// above it is bad weighing or undercooked food. [`YieldError::Range`] for a lot of no solids.
    pub fn ceiling(self, trim: Yield, lot_solids: Share) -> Result<Cumulative, YieldError> {
        trim.decimal()
            .checked_mul(lot_solids.decimal())
            .and_then(|dry| dry.checked_mul(self.retained.decimal()))
            .and_then(|kept| kept.checked_div(self.least.decimal()))
            .map_or(Err(YieldError::Range), Cumulative::new)
    }
}

impl Default for SolidsRule {
    fn default() -> Self {
        Self { retained: Share::per_mille(975), least: Share::per_mille(330) }
    }
}

#[cfg(test)]
mod tests {
    use super::super::chain::tests::potato;
    use super::*;

    fn ratio(text: &str) -> Yield {
        Yield::new(text.parse().unwrap()).unwrap()
    }

    fn share(text: &str) -> Share {
        Share::new(text.parse().unwrap()).unwrap()
    }

    /// Source: invented worked example: 0.48 to 0.69 for solids of 18 to 24 % and trim of 0.90 to
    /// 0.97.
    #[test]
    fn usual_lots_have_ceilings_from_48_to_69_per_cent() {
        let rule = SolidsRule::default();
        for (trim, solids, ceiling) in [("0.90", "0.18", "0.48"), ("0.97", "0.24", "0.69")] {
            let found = rule.ceiling(ratio(trim), share(solids)).unwrap().decimal();
            assert_eq!(found.round_dp(2).to_string(), ceiling, "{trim} {solids}");
        }
        let standard = rule.ceiling(ratio("0.90"), share("0.18")).unwrap();
        assert!(potato().total().unwrap() < standard);
    }

    /// Source: USDA SR composition per 100 g, non-fat solids = 100 − water − fat: russet raw (11353)
    /// 21.34, par-fried frozen (11402) 28.73, fast-food fry (21138) 46.72 (read in two copies);
    /// yields computed from them by conservation of non-fat solids, and 81 % paring applied.
    #[test]
    fn solids_balance_of_published_composition() {
        for (from, to, trim, balance, places) in [
            ("0.2134", "0.2873", "1", "0.74278", 5),
            ("0.2873", "0.4672", "1", "0.61494", 5),
            ("0.2134", "0.4672", "1", "0.45676", 5),
            ("0.2134", "0.4672", "0.81", "0.36998", 5),
        ] {
            let nothing_lost = SolidsRule::new(Share::per_mille(1000), share(to)).unwrap();
            let found = nothing_lost.ceiling(ratio(trim), share(from)).unwrap().decimal();
            assert_eq!(found.round_dp(places), balance.parse().unwrap(), "{from} to {to}");
        }
    }

    #[test]
    fn a_rule_or_lot_without_solids_is_refused() {
        let none = Share::per_mille(0);
        assert_eq!(SolidsRule::new(none, none), Err(YieldError::Solids));
        assert_eq!(SolidsRule::default().ceiling(ratio("0.9"), none), Err(YieldError::Range));
    }
}
