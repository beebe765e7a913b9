use std::fmt;

use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};

use crate::ids::{ItemId, PackId, PanId, StageId};
use crate::quantity::{QuantityError, Unit};
use crate::yields::YieldError;

/// A unit as a person names it: a standard one by its symbol, or a pack of the item by its code.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub enum UnitName {
    /// A standard unit.
    Standard(Unit),
    /// A pack of the item.
    Pack(PackId),
}

impl std::str::FromStr for UnitName {
    type Err = MeasureError;
    fn from_str(text: &str) -> Result<Self, MeasureError> {
        match Unit::from_symbol(text) {
            Some(unit) => Ok(Self::Standard(unit)),
            None => PackId::new(text)
                .map(Self::Pack)
                .map_err(|_| MeasureError::NoUnit(text.chars().take(40).collect())),
        }
    }
}

impl TryFrom<String> for UnitName {
    type Error = MeasureError;
    fn try_from(text: String) -> Result<Self, MeasureError> {
        text.parse()
    }
}

impl From<UnitName> for String {
    fn from(unit: UnitName) -> Self {
        unit.to_string()
    }
}

impl fmt::Display for UnitName {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Standard(unit) => unit.fmt(f),
            Self::Pack(pack) => pack.fmt(f),
        }
    }
}

/// An amount as it was typed. It is kept as it is for ever; what it was converted to stands
/// beside it.
///
/// ```
/// use parings_core::catalog::Typed;
/// let typed: Typed = serde_json::from_str(r#"{"value":"3.5","unit":"bag"}"#).unwrap();
/// assert_eq!(typed.to_string(), "3.5 bag");
/// assert!(serde_json::from_str::<Typed>(r#"{"value":"-1","unit":"kg"}"#).is_err());
/// ```
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(try_from = "RawTyped", into = "RawTyped")]
pub struct Typed {
    value: Decimal,
    unit: UnitName,
}

#[derive(Serialize, Deserialize)]
struct RawTyped {
    #[serde(with = "crate::quantity::decimal")]
    value: Decimal,
    unit: UnitName,
}

impl TryFrom<RawTyped> for Typed {
    type Error = MeasureError;
    fn try_from(raw: RawTyped) -> Result<Self, MeasureError> {
        Self::new(raw.value, raw.unit)
    }
}

impl From<Typed> for RawTyped {
    fn from(typed: Typed) -> Self {
        Self { value: typed.value, unit: typed.unit }
    }
}

impl Typed {
    /// Most decimals a person may type.
    pub const DECIMALS: u32 = 6;
    /// The largest number a person may type.
    pub const MAX: Decimal = Decimal::from_parts(10_000_000, 0, 0, false, 0);

    /// An amount of a number from 0 to [`Typed::MAX`] with up to [`Typed::DECIMALS`] decimals.
    ///
    /// # Errors
    /// [`MeasureError::Value`] otherwise.
    pub fn new(value: Decimal, unit: UnitName) -> Result<Self, MeasureError> {
        if value.is_sign_negative() && !value.is_zero()
            || value > Self::MAX
            || value.normalize().scale() > Self::DECIMALS
        {
            return Err(MeasureError::Value(value));
        }
        Ok(Self { value, unit })
    }

    /// The number as it was typed, in [`Typed::unit`].
    pub fn value(&self) -> Decimal {
        self.value
    }

    /// The unit or the pack that the number counts.
    pub fn unit(&self) -> &UnitName {
        &self.unit
    }
}

impl fmt::Display for Typed {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} {}", self.value, self.unit)
    }
}

/// Why an amount of an item cannot be understood.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum MeasureError {
    /// The number is below nothing, too large, or has too many decimals.
    #[error("{0} cannot be an amount: use 0 to {max} with up to {decimals} decimals", max = Typed::MAX, decimals = Typed::DECIMALS)]
    Value(Decimal),
    /// Not the symbol of a unit nor the code of a pack.
    #[error("\"{0}\" is neither a unit nor a pack")]
    NoUnit(String),
    /// The item does not come in this pack.
    #[error("{item} has no pack \"{pack}\"{}", if known.is_empty() { String::new() } else { format!(": it has {known}") })]
    NoPack {
        /// The item that was measured.
        item: ItemId,
        /// The pack that was named.
        pack: PackId,
        /// The packs it has, in words.
        known: String,
    },
    /// The item has no such stage.
    #[error("{item} has no stage \"{stage}\"")]
    NoStage {
        /// The item that was measured.
        item: ItemId,
        /// The stage that was named.
        stage: StageId,
    },
    /// The item has no such pan.
    #[error("{item} has no pan \"{pan}\"")]
    NoPan {
        /// The item that was measured.
        item: ItemId,
        /// The pan that was named.
        pan: PanId,
    },
    /// The gross weight is less than the empty pan.
    #[error("{gross} is less than the empty pan {pan} ({tare})")]
    UnderTare {
        /// The weight as it was typed, pan included.
        gross: String,
        /// The pan that it was weighed in.
        pan: PanId,
        /// What the pan weighs empty, with its unit.
        tare: String,
    },
    /// The unit is of another dimension and nothing bridges it.
    #[error("{item}: {cause}")]
    Bridge {
        /// The item that was measured.
        item: ItemId,
        /// Why the unit cannot be turned into one of the item.
        cause: QuantityError,
    },
    /// The amount is too large to keep.
    #[error("{item}: {cause}")]
    Yield {
        /// The item that was measured.
        item: ItemId,
        /// Why the standard yields give no amount as purchased.
        cause: YieldError,
    },
}
