//! How one item's mass, volume and count turn into each other.

use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};

use super::{Amount, Dimension, Mass, QuantityError, decimal};

/// Grams in a millilitre, above zero. JSON: a decimal string.
///
/// ```
/// use parings_core::quantity::Density;
///
/// assert!(Density::new("0.915".parse().unwrap()).is_ok()); // a frying oil, invented value
/// assert!(Density::new("0".parse().unwrap()).is_err());
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(try_from = "RawDensity")]
pub struct Density(#[serde(with = "decimal")] Decimal);

#[derive(Deserialize)]
struct RawDensity(#[serde(with = "decimal")] Decimal);

impl TryFrom<RawDensity> for Density {
    type Error = QuantityError;
    fn try_from(raw: RawDensity) -> Result<Self, QuantityError> {
        Self::new(raw.0)
    }
}

impl Density {
    /// A density of so many grams in a millilitre.
    ///
    /// # Errors
    /// [`QuantityError::NotPositive`] for zero and below.
    pub fn new(grams_per_millilitre: Decimal) -> Result<Self, QuantityError> {
        positive(grams_per_millilitre).map(Self)
    }

    /// Grams in a millilitre.
    pub fn value(self) -> Decimal {
        self.0
    }
}

fn positive(value: Decimal) -> Result<Decimal, QuantityError> {
    if value > Decimal::ZERO { Ok(value) } else { Err(QuantityError::NotPositive { value }) }
}

/// What an item's dimensions have to do with each other on a date: its density, and what one piece
/// weighs. Without them a mass stays a mass.
///
/// ```
/// use parings_core::quantity::{Amount, Bridge, Density, Dimension, Mass, QuantityError};
///
/// let oil = Bridge { density: Some(Density::new("0.92".parse().unwrap()).unwrap()), each: None };
/// let tin = Amount::new(Dimension::Volume, 20_000.into());
/// let weighed = oil.convert(tin, Dimension::Mass).unwrap();
/// assert_eq!(weighed.base().normalize().to_string(), "18400");
/// assert!(matches!(
///     oil.convert(tin, Dimension::Count),
///     Err(QuantityError::MissingEach { .. })
/// ));
///
/// let bun = Bridge { density: None, each: Some(Mass::new(55.into())) };
/// let tray = Amount::new(Dimension::Count, 30.into());
/// assert_eq!(bun.convert(tray, Dimension::Mass).unwrap().base(), 1650.into());
/// ```
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Bridge {
    /// Grams in a millilitre, where the item has a density.
    #[serde(default)]
    pub density: Option<Density>,
    /// What one piece weighs, where the item has pieces.
    #[serde(default)]
    pub each: Option<Mass>,
}

impl Bridge {
    /// Brings an amount into a dimension: mass and volume by the density, mass and count by the
    /// weight of each, volume and count by both. A quotient that does not end is rounded at 28
    /// digits.
    ///
    /// # Errors
    /// [`QuantityError::MissingDensity`], [`QuantityError::MissingEach`] or
    /// [`QuantityError::MissingBoth`] say what the item lacks; [`QuantityError::NotPositive`] for a
    /// piece that weighs nothing; [`QuantityError::TooLarge`] past 28 digits.
    pub fn convert(self, amount: Amount, to: Dimension) -> Result<Amount, QuantityError> {
        use Dimension::{Count, Mass, Volume};
        let (from, value) = (amount.dimension(), amount.base());
        let base = match (from, to) {
            (Mass, Mass) | (Volume, Volume) | (Count, Count) => Some(value),
            (Mass, Volume) => value.checked_div(self.density(from, to)?),
            (Volume, Mass) => value.checked_mul(self.density(from, to)?),
            (Mass, Count) => value.checked_div(self.each(from, to)?),
            (Count, Mass) => value.checked_mul(self.each(from, to)?),
            (Volume, Count) => {
                let (density, each) = self.both(from, to)?;
                value.checked_mul(density).and_then(|mass| mass.checked_div(each))
            }
            (Count, Volume) => {
                let (density, each) = self.both(from, to)?;
                value.checked_mul(each).and_then(|mass| mass.checked_div(density))
            }
        };
        base.map(|base| Amount::new(to, base)).ok_or(QuantityError::TooLarge { value })
    }

    fn density(self, from: Dimension, to: Dimension) -> Result<Decimal, QuantityError> {
        self.density.map(Density::value).ok_or(QuantityError::MissingDensity { from, to })
    }

    fn each(self, from: Dimension, to: Dimension) -> Result<Decimal, QuantityError> {
        positive(self.each.ok_or(QuantityError::MissingEach { from, to })?.value())
    }

    fn both(self, from: Dimension, to: Dimension) -> Result<(Decimal, Decimal), QuantityError> {
        if self.density.is_none() && self.each.is_none() {
            return Err(QuantityError::MissingBoth { from, to });
        }
        Ok((self.density(from, to)?, self.each(from, to)?))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    const ALL: [Dimension; 3] = [Dimension::Mass, Dimension::Volume, Dimension::Count];

    fn bridge(density: Option<i64>, each: Option<i64>) -> Bridge {
        Bridge {
            density: density.map(|d| Density::new(Decimal::new(d, 3)).unwrap()),
            each: each.map(|e| Mass::new(Decimal::new(e, 2))),
        }
    }

    #[test]
    fn what_is_missing_is_named() {
        use Dimension::{Count, Mass, Volume};
        let one = |dimension| Amount::new(dimension, Decimal::ONE);
        let cases = [
            (None, None, Mass, Volume, "by a density, and"),
            (None, None, Volume, Mass, "by a density, and"),
            (None, None, Mass, Count, "by the weight of each, and"),
            (None, None, Count, Mass, "by the weight of each, and"),
            (None, None, Volume, Count, "has neither"),
            (None, None, Count, Volume, "has neither"),
            (Some(920), None, Volume, Count, "by the weight of each, and"),
            (None, Some(5500), Count, Volume, "by a density, and"),
            (None, Some(0), Count, Mass, "not above zero"),
        ];
        for (density, each, from, to, part) in cases {
            let error = bridge(density, each).convert(one(from), to).unwrap_err().to_string();
            assert!(error.contains(part), "{from} to {to}: {error}");
        }
    }

    #[test]
    fn a_bridge_reads_its_json_and_refuses_nonsense() {
        let oil: Bridge = serde_json::from_str(r#"{"density":"0.92"}"#).unwrap();
        assert_eq!(oil, bridge(Some(920), None));
        assert_eq!(serde_json::to_string(&oil).unwrap(), r#"{"density":"0.92","each":null}"#);
        assert!(serde_json::from_str::<Bridge>(r#"{"density":"-1"}"#).is_err());
        assert!(serde_json::from_str::<Bridge>(r#"{"densty":"1"}"#).is_err());
    }

    proptest! {
        #[test]
        fn there_and_back_loses_nothing_a_tally_could_see(
            thousandths in -1_000_000_000_000_i64..=1_000_000_000_000,
            density in 100_i64..=2_000,
            each in 1_i64..=1_000_000,
        ) {
            let bridge = bridge(Some(density), Some(each));
            for from in ALL {
                for to in ALL {
                    let amount = Amount::new(from, Decimal::new(thousandths, 3));
                    let there = bridge.convert(amount, to).unwrap();
                    prop_assert_eq!(there.dimension(), to);
                    let back = bridge.convert(there, from).unwrap();
                    let tallied = |a: Amount| a.to_base(from).unwrap().settle().unwrap();
                    prop_assert_eq!(tallied(back), tallied(amount));
                }
            }
        }

        #[test]
        fn volume_to_count_is_the_way_through_mass(
            thousandths in 0_i64..=1_000_000_000, density in 100_i64..=2_000, each in 1_i64..=1_000_000,
        ) {
            let bridge = bridge(Some(density), Some(each));
            let volume = Amount::new(Dimension::Volume, Decimal::new(thousandths, 3));
            let mass = bridge.convert(volume, Dimension::Mass).unwrap();
            prop_assert_eq!(
                bridge.convert(volume, Dimension::Count).unwrap(),
                bridge.convert(mass, Dimension::Count).unwrap()
            );
        }
    }
}
