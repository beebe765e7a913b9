//! The currency a network keeps its money in.

use std::fmt;

use serde::{Deserialize, Serialize};

use super::MoneyError;
use crate::quantity::cut;

/// An ISO 4217 currency code: three capital letters. JSON: the code.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub struct Currency([u8; 3]);

impl Currency {
    /// The currency of a code. That the code is assigned to a currency is not checked: the list
    /// changes.
    ///
    /// # Errors
    /// [`MoneyError::NotACurrency`].
    ///
    /// ```
    /// use parings_core::money::Currency;
    /// assert_eq!(Currency::new("JPY").unwrap().exponent(), 0);
    /// assert!(Currency::new("yen").is_err());
    /// ```
    pub fn new(code: &str) -> Result<Self, MoneyError> {
        match *code.as_bytes() {
            [a, b, c] if [a, b, c].iter().all(u8::is_ascii_uppercase) => Ok(Self([a, b, c])),
            _ => Err(MoneyError::NotACurrency { text: cut(code) }),
        }
    }

    /// The code as text.
    pub fn as_str(&self) -> &str {
        std::str::from_utf8(&self.0).expect("three capital letters are text")
    }

    /// Decimal places of the minor unit. Two for every code that ISO 4217 does not list otherwise.
    pub fn exponent(&self) -> u32 {
        match self.as_str() {
            "BIF" | "CLP" | "DJF" | "GNF" | "ISK" | "JPY" | "KMF" | "KRW" | "PYG" | "RWF"
            | "UGX" | "UYI" | "VND" | "VUV" | "XAF" | "XOF" | "XPF" => 0,
            "BHD" | "IQD" | "JOD" | "KWD" | "LYD" | "OMR" | "TND" => 3,
            "CLF" | "UYW" => 4,
            _ => 2,
        }
    }
}

impl std::str::FromStr for Currency {
    type Err = MoneyError;
    fn from_str(code: &str) -> Result<Self, MoneyError> {
        Self::new(code)
    }
}

impl TryFrom<String> for Currency {
    type Error = MoneyError;
    fn try_from(code: String) -> Result<Self, MoneyError> {
        Self::new(&code)
    }
}

impl From<Currency> for String {
    fn from(currency: Currency) -> Self {
        currency.as_str().to_owned()
    }
}

impl fmt::Display for Currency {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.as_str())
    }
}

impl fmt::Debug for Currency {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "Currency({self})")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn minor_units_are_those_of_iso_4217() {
        // ISO 4217, table A.1, minor units (from memory).
        for (code, exponent) in [
            ("USD", 2),
            ("EUR", 2),
            ("GBP", 2),
            ("CAD", 2),
            ("CHF", 2),
            ("HUF", 2),
            ("JPY", 0),
            ("KRW", 0),
            ("CLP", 0),
            ("ISK", 0),
            ("BHD", 3),
            ("KWD", 3),
            ("OMR", 3),
            ("JOD", 3),
            ("TND", 3),
            ("CLF", 4),
            ("UYW", 4),
        ] {
            assert_eq!(Currency::new(code).unwrap().exponent(), exponent, "{code}");
        }
    }

    #[test]
    fn a_currency_is_three_capital_letters() {
        for bad in ["", "EU", "EURO", "eur", "E1R", "ÉUR", " EUR"] {
            assert!(Currency::new(bad).is_err(), "{bad:?} was taken");
        }
        let euro: Currency = serde_json::from_str("\"EUR\"").unwrap();
        assert_eq!(serde_json::to_string(&euro).unwrap(), "\"EUR\"");
        assert_eq!((euro.to_string(), format!("{euro:?}")), ("EUR".into(), "Currency(EUR)".into()));
        let error = serde_json::from_str::<Currency>("\"eur\"").unwrap_err().to_string();
        assert!(error.contains("three capital letters of ISO 4217"), "{error}");
    }
}
