//! Exact amounts: what was typed, what it is in grams, millilitres or pieces, and what adds up.
//!
//! | Type | What it holds | Use it for |
//! |-|-|-|
//! | [`Quantity`] | a value and a unit, as typed | input, and display of what somebody wrote |
//! | [`Amount`] | a [`Dimension`] and a value in its base unit | conversion through a [`Bridge`] |
//! | [`Base`] | a value in the base unit of *one* item | all arithmetic of that item |
//! | [`Tallied`] | whole thousandths of that unit | what is stored and merged |
//! | [`Ratio`] | a numerator and a denominator | the end of a calculation; ratios do not add |
//!
//! Nothing here is a float. A [`Base`] is rounded once, by [`Base::settle`], when a store's night
//! is tallied; from there on whole numbers are added, so the order cannot change a digit.
//!
//! ```
//! use parings_core::quantity::{Dimension, Quantity, Unit};
//!
//! // 18.5 lb of potatoes, as an item that is kept in grams.
//! let typed = Quantity::new("18.5".parse().unwrap(), Unit::Pound).unwrap();
//! let base = typed.amount().to_base(Dimension::Mass).unwrap();
//! assert_eq!(base.value().to_string(), "8391.458845");
//! assert_eq!(base.settle().unwrap().thousandths(), 8_391_459);
//! ```

mod amount;
mod base;
mod bridge;
pub mod decimal;
mod ratio;
mod unit;

use rust_decimal::Decimal;

pub use amount::{Amount, Count, Mass, Quantity, Volume};
pub use base::{Base, Tallied};
pub use bridge::{Bridge, Density};
pub use ratio::Ratio;
pub use unit::{Dimension, Unit};

/// Why a quantity was refused. Each message says what to send instead.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum QuantityError {
    /// The text is no plain decimal, or has more digits than can be kept exactly.
    #[error(
        "\"{text}\" is not a decimal number: use digits, an optional leading minus and an optional \
         decimal point, 28 digits at most"
    )]
    NotANumber {
        /// The text as it came, cut to its first 60 characters.
        text: String,
    },
    /// A number with more digits than a JSON number carries reliably.
    #[error("{text} has more than 15 digits: send it as a string to keep every one of them")]
    Imprecise {
        /// The number as it was read.
        text: String,
    },
    /// The value is below zero, which no quantity can be.
    #[error("{value} is below zero: a quantity cannot be")]
    Negative {
        /// The value as it came.
        value: Decimal,
    },
    /// Finer than any scale in a kitchen.
    #[error("{value} has too many decimals: {places} at most")]
    TooFine {
        /// The value as it came.
        value: Decimal,
        /// The most decimals that are kept.
        places: u32,
    },
    /// Larger than any kitchen holds.
    #[error("{value} is too large: check the unit and the decimal point")]
    TooLarge {
        /// The value as it came.
        value: Decimal,
    },
    /// No such standard unit.
    #[error("\"{symbol}\" is not a standard unit: use one of {}", unit::symbols())]
    UnknownUnit {
        /// The symbol as it came, cut to its first 60 characters.
        symbol: String,
    },
    /// An amount of one dimension where another is wanted.
    #[error("a {found} was given where a {wanted} is wanted")]
    OtherDimension {
        /// The dimension that is wanted.
        wanted: Dimension,
        /// The dimension that came.
        found: Dimension,
    },
    /// Mass and volume meet only through a density.
    #[error("a {from} becomes a {to} only by a density, and the item has none on this date")]
    MissingDensity {
        /// The dimension that came.
        from: Dimension,
        /// The dimension that is wanted.
        to: Dimension,
    },
    /// Mass and count meet only through the weight of one piece.
    #[error(
        "a {from} becomes a {to} only by the weight of each, and the item has none on this date"
    )]
    MissingEach {
        /// The dimension that came.
        from: Dimension,
        /// The dimension that is wanted.
        to: Dimension,
    },
    /// Volume and count meet only through both.
    #[error(
        "a {from} becomes a {to} only by a density and the weight of each, and the item has \
         neither on this date"
    )]
    MissingBoth {
        /// The dimension that came.
        from: Dimension,
        /// The dimension that is wanted.
        to: Dimension,
    },
    /// A density or the weight of a piece that is zero or below.
    #[error("{value} is not above zero: a density and the weight of each must be")]
    NotPositive {
        /// The value as it came.
        value: Decimal,
    },
}

/// A text short enough to repeat in a message.
pub(crate) fn cut(text: &str) -> String {
    text.chars().take(60).collect()
}
