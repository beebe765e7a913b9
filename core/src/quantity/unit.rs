//! Standard units and what they are in their base unit.

use std::fmt;

use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};

use super::{QuantityError, cut};

/// What is measured. Two dimensions meet only through a [`Bridge`](super::Bridge).
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Dimension {
    /// Weighed, in grams.
    Mass,
    /// Measured out, in millilitres.
    Volume,
    /// Counted, in pieces.
    Count,
}

impl Dimension {
    /// The unit that amounts of this dimension are kept in.
    ///
    /// ```
    /// use parings_core::quantity::{Dimension, Unit};
    /// assert_eq!(Dimension::Mass.base(), Unit::Gram);
    /// ```
    pub fn base(self) -> Unit {
        match self {
            Self::Mass => Unit::Gram,
            Self::Volume => Unit::Millilitre,
            Self::Count => Unit::Each,
        }
    }
}

impl fmt::Display for Dimension {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Mass => "mass",
            Self::Volume => "volume",
            Self::Count => "count",
        })
    }
}

macro_rules! units {
    ($($(#[$doc:meta])* $name:ident = $symbol:literal: $dimension:ident, $digits:literal, $scale:literal;)*) => {
        /// A standard unit. Spoons, cups and what follows are those of US customary measure.
        ///
        /// The factors are exact: the pound is 453.592 37 g and the gallon 231 cubic inches of
        /// 2.54 cm, 3 785.411 784 ml (NIST Handbook 44, Appendix C; NIST SP 811, Appendix B).
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
        #[serde(try_from = "String", into = "String")]
        pub enum Unit { $($(#[$doc])* $name,)* }

        impl Unit {
            /// Every unit: masses, volumes, counts, each from small to large.
            pub const ALL: &[Self] = &[$(Self::$name,)*];

            /// The unit's symbol, as in the API and the database.
            pub fn symbol(self) -> &'static str {
                match self { $(Self::$name => $symbol,)* }
            }

            /// What the unit measures.
            pub fn dimension(self) -> Dimension {
                match self { $(Self::$name => Dimension::$dimension,)* }
            }

            /// How many base units of its dimension make one of it, exactly.
            ///
            /// ```
            /// use parings_core::quantity::Unit;
            /// assert_eq!(Unit::Pound.factor().to_string(), "453.59237");
            /// ```
            pub fn factor(self) -> Decimal {
                match self { $(Self::$name => Decimal::new($digits, $scale),)* }
            }
        }
    };
}

units! {
    /// A thousandth of a gram.
    Milligram = "mg": Mass, 1, 3;
    /// The base unit of mass.
    Gram = "g": Mass, 1, 0;
    /// The avoirdupois ounce, a sixteenth of a pound.
    Ounce = "oz": Mass, 28_349_523_125, 9;
    /// The avoirdupois pound.
    Pound = "lb": Mass, 45_359_237, 5;
    /// A thousand grams.
    Kilogram = "kg": Mass, 1000, 0;
    /// The base unit of volume.
    Millilitre = "ml": Volume, 1, 0;
    /// A 768th of a gallon.
    Teaspoon = "tsp": Volume, 492_892_159_375, 11;
    /// A hundredth of a litre.
    Centilitre = "cl": Volume, 10, 0;
    /// A 256th of a gallon.
    Tablespoon = "tbsp": Volume, 1_478_676_478_125, 11;
    /// A 128th of a gallon.
    FluidOunce = "fl-oz": Volume, 295_735_295_625, 10;
    /// A sixteenth of a gallon.
    Cup = "cup": Volume, 2_365_882_365, 7;
    /// The liquid pint, an eighth of a gallon.
    Pint = "pt": Volume, 473_176_473, 6;
    /// The liquid quart, a quarter of a gallon.
    Quart = "qt": Volume, 946_352_946, 6;
    /// A thousand millilitres.
    Litre = "l": Volume, 1000, 0;
    /// The US gallon.
    Gallon = "gal": Volume, 3_785_411_784, 6;
    /// The base unit of count: one piece.
    Each = "each": Count, 1, 0;
    /// Twelve pieces, counted as one.
    Dozen = "dozen": Count, 12, 0;
}

impl Unit {
    /// The unit with that symbol, written exactly so.
    ///
    /// ```
    /// use parings_core::quantity::Unit;
    /// assert_eq!(Unit::from_symbol("fl-oz"), Some(Unit::FluidOunce));
    /// assert_eq!(Unit::from_symbol("bag"), None);
    /// ```
    pub fn from_symbol(symbol: &str) -> Option<Self> {
        Self::ALL.iter().copied().find(|unit| unit.symbol() == symbol)
    }
}

/// All symbols in one line, for messages.
pub(super) fn symbols() -> String {
    Unit::ALL.iter().map(|unit| unit.symbol()).collect::<Vec<_>>().join(", ")
}

impl std::str::FromStr for Unit {
    type Err = QuantityError;
    fn from_str(symbol: &str) -> Result<Self, QuantityError> {
        Self::from_symbol(symbol).ok_or_else(|| QuantityError::UnknownUnit { symbol: cut(symbol) })
    }
}

impl TryFrom<String> for Unit {
    type Error = QuantityError;
    fn try_from(symbol: String) -> Result<Self, QuantityError> {
        symbol.parse()
    }
}

impl From<Unit> for String {
    fn from(unit: Unit) -> Self {
        unit.symbol().to_owned()
    }
}

impl fmt::Display for Unit {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.symbol())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn d(text: &str) -> Decimal {
        text.parse().expect(text)
    }

    #[test]
    fn dimensions_are_told_in_the_words_of_their_documents() {
        for dimension in [Dimension::Mass, Dimension::Volume, Dimension::Count] {
            assert_eq!(serde_json::to_value(dimension).unwrap(), dimension.to_string());
            assert_eq!(dimension.base().dimension(), dimension);
        }
        assert_eq!(Dimension::Volume.to_string(), "volume");
    }

    #[test]
    fn customary_volumes_follow_from_the_gallon_of_231_cubic_inches() {
        // NIST Handbook 44, Appendix C: 1 gal = 231 in³ = 128 fl oz, 1 in = 2.54 cm exactly, and
        // the household measures of NIST SP 811, Appendix B (from memory). Recomputed here.
        let inch = d("2.54");
        let gallon = d("231") * inch * inch * inch;
        for (unit, in_a_gallon) in [
            (Unit::Gallon, 1),
            (Unit::Quart, 4),
            (Unit::Pint, 8),
            (Unit::Cup, 16),
            (Unit::FluidOunce, 128),
            (Unit::Tablespoon, 256),
            (Unit::Teaspoon, 768),
        ] {
            assert_eq!(unit.factor() * Decimal::from(in_a_gallon), gallon, "{unit}");
        }
    }

    #[test]
    fn factors_round_to_the_published_ones() {
        // NIST SP 811 (2008), Appendix B.8, seven digits (from memory): kg and m³ shown in g and ml.
        for (unit, published) in [
            (Unit::Ounce, "28.34952"),
            (Unit::Pound, "453.5924"),
            (Unit::Teaspoon, "4.928922"),
            (Unit::Tablespoon, "14.78676"),
            (Unit::FluidOunce, "29.57353"),
            (Unit::Cup, "236.5882"),
            (Unit::Pint, "473.1765"),
            (Unit::Quart, "946.3529"),
            (Unit::Gallon, "3785.412"),
        ] {
            let published = d(published);
            assert_eq!(unit.factor().round_dp(published.scale()), published, "{unit}");
        }
    }

    #[test]
    fn exact_factors_are_the_legal_ones() {
        // International yard and pound agreement of 1959, NIST Handbook 44 Appendix C (from
        // memory); SI prefixes.
        for (unit, exact) in [
            (Unit::Pound, "453.59237"),
            (Unit::Ounce, "28.349523125"),
            (Unit::Gallon, "3785.411784"),
            (Unit::FluidOunce, "29.5735295625"),
            (Unit::Milligram, "0.001"),
            (Unit::Kilogram, "1000"),
            (Unit::Centilitre, "10"),
            (Unit::Litre, "1000"),
            (Unit::Dozen, "12"),
        ] {
            assert_eq!(unit.factor(), d(exact), "{unit}");
        }
        assert_eq!(Unit::Pound.factor(), Unit::Ounce.factor() * d("16"));
    }

    #[test]
    fn symbols_are_unique_and_read_back() {
        for unit in Unit::ALL {
            assert_eq!(Unit::from_symbol(unit.symbol()), Some(*unit));
            let json = serde_json::to_string(unit).unwrap();
            assert_eq!(json, format!("\"{unit}\""));
            assert_eq!(serde_json::from_str::<Unit>(&json).unwrap(), *unit);
            assert_eq!(unit.dimension().base().factor(), Decimal::ONE);
        }
        let error = serde_json::from_str::<Unit>("\"stone\"").unwrap_err().to_string();
        assert!(
            error.contains("\"stone\" is not a standard unit: use one of mg, g, oz"),
            "{error}"
        );
    }
}
