//! Numbers and amounts on the wire.

use std::fmt;

use parings_core::catalog::Typed;
use parings_core::money::Money;
use parings_core::quantity::{Quantity, decimal};
use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};
use utoipa::openapi::RefOr;
use utoipa::openapi::schema::{ObjectBuilder, OneOfBuilder, Schema, Type};
use utoipa::{PartialSchema, ToSchema};

use crate::http::faults::Faults;

/// An exact decimal: written as a string, read from a string or a number.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Number(#[serde(with = "decimal")] pub Decimal);

impl fmt::Display for Number {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.fmt(f)
    }
}

impl PartialSchema for Number {
    fn schema() -> RefOr<Schema> {
        let text = ObjectBuilder::new()
            .schema_type(Type::String)
            .pattern(Some(r"^-?[0-9]+(\.[0-9]+)?$"))
            .description(Some("Exact; answers always have this form."));
        let number = ObjectBuilder::new()
            .schema_type(Type::Number)
            .description(Some("Up to 15 significant digits."));
        OneOfBuilder::new()
            .item(text)
            .item(number)
            .description(Some("An exact decimal."))
            .examples(["18.5"])
            .into()
    }
}

impl ToSchema for Number {}

/// An amount as a person types it: a number, and a standard unit's symbol or the code of one of
/// the item's packs.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({ "value": "3.5", "unit": "bag" }))]
pub struct TypedBody {
    /// The number, 0 or more.
    pub value: Number,
    /// The unit: `mg`, `g`, `oz`, `lb`, `kg`, `ml`, `cl`, `l`, `each` … or a pack's code.
    pub unit: String,
}

impl TypedBody {
    /// Reads the amount at a member.
    pub fn read(self, faults: &mut Faults, member: &str) -> Option<Typed> {
        faults.within(member, |faults| {
            let unit = faults.parse("unit", &self.unit);
            // The unit's faults are told once, the number's where it is.
            let plain = parings_core::quantity::Unit::Gram;
            let sound = Typed::new(self.value.0, parings_core::catalog::UnitName::Standard(plain));
            let sound = faults.take("value", sound);
            Typed::new(sound?.value(), unit?).ok()
        })
    }
}

impl From<&Typed> for TypedBody {
    fn from(typed: &Typed) -> Self {
        Self { value: Number(typed.value()), unit: typed.unit().to_string() }
    }
}

/// An amount in a standard unit.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({ "value": "0.45", "unit": "kg" }))]
pub struct QuantityBody {
    /// The number, 0 or more.
    pub value: Number,
    /// The unit's symbol.
    pub unit: String,
}

impl QuantityBody {
    /// Reads the amount at a member.
    pub fn read(self, faults: &mut Faults, member: &str) -> Option<Quantity> {
        faults.within(member, |faults| {
            let unit = faults.parse("unit", &self.unit);
            let sound = Quantity::new(self.value.0, parings_core::quantity::Unit::Gram);
            let sound = faults.take("value", sound);
            Quantity::new(sound?.value(), unit?).ok()
        })
    }
}

impl From<Quantity> for QuantityBody {
    fn from(quantity: Quantity) -> Self {
        Self { value: Number(quantity.value()), unit: quantity.unit().to_string() }
    }
}

/// The most money that anything in a kitchen costs or a night takes.
const MONEY_MAX: Decimal = Decimal::from_parts(1_000_000_000, 0, 0, false, 0);

/// Reads money, bounded, so that sums of it stay within what can be kept. The rules say where it
/// may be below zero.
pub fn money(faults: &mut Faults, member: &str, sent: &Number) -> Option<Money> {
    let money: Money = faults.decimal(member, sent)?;
    if sent.0.abs() > MONEY_MAX {
        faults.add(member, format!("{MONEY_MAX} at most"));
        return None;
    }
    Some(money)
}
