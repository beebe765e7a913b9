use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};

use super::StatsError;

/// An exact part of a whole, from 0 to 1; a decimal string in JSON.
///
/// ```
/// use parings_core::stats::Share;
/// let solids: Share = serde_json::from_str("\"0.21\"").unwrap();
/// assert_eq!(solids.decimal().to_string(), "0.21");
/// assert!(Share::new("1.01".parse().unwrap()).is_err());
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(try_from = "Decimal", into = "Decimal")]
pub struct Share(Decimal);

impl Share {
    /// A share from 0 to 1, both included; else [`StatsError::Share`].
    pub fn new(share: Decimal) -> Result<Self, StatsError> {
        if (Decimal::ZERO..=Decimal::ONE).contains(&share) {
            Ok(Self(share))
        } else {
            Err(StatsError::Share)
        }
    }

    /// A share in thousandths; more than 1000 counts as 1000.
    ///
    /// ```
    /// use parings_core::stats::Share;
    /// assert_eq!(Share::per_mille(975).decimal().to_string(), "0.975");
    /// ```
    pub fn per_mille(thousandths: u16) -> Self {
        Self(Decimal::new(i64::from(thousandths.min(1000)), 3))
    }

    /// The share as a number from 0 to 1.
    pub fn decimal(self) -> Decimal {
        self.0
    }
}

impl TryFrom<Decimal> for Share {
    type Error = StatsError;
    fn try_from(share: Decimal) -> Result<Self, StatsError> {
        Self::new(share)
    }
}

impl From<Share> for Decimal {
    fn from(share: Share) -> Self {
        share.0
    }
}
