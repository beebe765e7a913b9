//! Names of things.
//!
//! What head office names (stores, items, reasons …) is known by a *code*: a short word that a
//! person can type and that never changes, while the title beside it may. What a client or the
//! server makes (submissions, entries, people) is known by a UUID. A code of one kind cannot be
//! handed where another is wanted.

use std::sync::Arc;

use serde::{Deserialize, Deserializer, Serialize, Serializer, de};

/// Longest code, in bytes.
pub const CODE_MAX: usize = 40;

/// Why a text is not a code.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("\"{text}\" is not a code: use 1 to {CODE_MAX} of a-z, 0-9 and single inner hyphens")]
pub struct CodeError {
    /// The text as it came, cut to its first 60 characters.
    pub text: String,
}

fn check_code(text: &str) -> Result<(), CodeError> {
    let shaped = text.bytes().all(|b| b.is_ascii_lowercase() || b.is_ascii_digit() || b == b'-');
    let hyphens = text.starts_with('-') || text.ends_with('-') || text.contains("--");
    if text.is_empty() || text.len() > CODE_MAX || !shaped || hyphens {
        return Err(CodeError { text: text.chars().take(60).collect() });
    }
    Ok(())
}

/// Reads the text of a code where it stands: documents name thousands of them, so that no copy is made
/// on the way.
struct CodeText<T>(fn(&str) -> Result<T, CodeError>);

impl<T> de::Visitor<'_> for CodeText<T> {
    type Value = T;

    fn expecting(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str("a string")
    }

    fn visit_str<E: de::Error>(self, text: &str) -> Result<T, E> {
        (self.0)(text).map_err(E::custom)
    }
}

macro_rules! codes {
    ($($(#[$doc:meta])* $name:ident;)*) => {$(
        $(#[$doc])*
        #[derive(Clone, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub struct $name(Arc<str>);

        impl $name {
            /// The code that a text is.
            pub fn new(text: &str) -> Result<Self, CodeError> {
                check_code(text)?;
                Ok(Self(text.into()))
            }

            /// The code as text.
            pub fn as_str(&self) -> &str {
                &self.0
            }
        }

        impl std::str::FromStr for $name {
            type Err = CodeError;
            fn from_str(text: &str) -> Result<Self, CodeError> {
                Self::new(text)
            }
        }

        impl Serialize for $name {
            fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
                to.serialize_str(&self.0)
            }
        }

        impl<'de> Deserialize<'de> for $name {
            fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
                from.deserialize_str(CodeText(Self::new))
            }
        }

        impl std::fmt::Display for $name {
            fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                f.write_str(&self.0)
            }
        }

        impl std::fmt::Debug for $name {
            fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                write!(f, "{}({})", stringify!($name), self.0)
            }
        }
    )*};
}

codes! {
    /// A store of the network.
    StoreId;
    /// A district: the stores of one area coach.
    DistrictId;
    /// A region: several districts.
    RegionId;
    /// An owner: who holds one or more stores, in any districts.
    OwnerId;
    /// A kind of store (counter, kiosk …), which sets fair peers, dayparts and targets.
    FormatId;
    /// Something bought, prepared or counted.
    ItemId;
    /// A step of an item's preparation.
    StageId;
    /// A place where stock is kept.
    PlaceId;
    /// A pack an item comes in (bag, case, tub), unique within its item.
    PackId;
    /// A named pan or tub with a known tare.
    PanId;
    /// A product on the menu.
    ProductId;
    /// A size of a product, unique within it.
    SizeId;
    /// Something a guest may add to a product.
    AdditionId;
    /// A stretch of the trading day.
    DaypartId;
    /// A way in which orders come (counter, collection, delivery …).
    ChannelId;
    /// Why something was thrown away.
    ReasonId;
    /// A set of dayparts.
    DaypartSetId;
    /// A fryer of a store.
    FryerId;
    /// A set of standard pars.
    ParSetId;
}

/// Codes that the house keeps for itself: a chain cannot give them to a daypart or channel.
pub const KEPT: [&str; 3] = ["outside", "unknown", "every"];

impl DaypartId {
    /// Of what happened outside every daypart.
    pub fn outside() -> Self {
        Self(KEPT[0].into())
    }

    /// Of what nobody placed in a daypart.
    pub fn unknown() -> Self {
        Self(KEPT[1].into())
    }
}

impl ChannelId {
    /// Of what nobody placed in a channel.
    pub fn unknown() -> Self {
        Self(KEPT[1].into())
    }

    /// Of what concerns every channel alike, as an item that is out.
    pub fn every() -> Self {
        Self(KEPT[2].into())
    }
}

macro_rules! uuids {
    ($($(#[$doc:meta])* $name:ident;)*) => {$(
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
        #[serde(transparent)]
        pub struct $name(pub uuid::Uuid);

        impl std::fmt::Display for $name {
            fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                self.0.fmt(f)
            }
        }
    )*};
}

uuids! {
    /// A person or a service that signs in.
    PersonId;
    /// A client's own id of one write, kept for ever.
    WriteId;
    /// One entry of the day.
    EntryId;
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn codes_are_short_plain_words() {
        for good in ["a", "mill-lane", "5kg-bag", &"x".repeat(CODE_MAX)] {
            assert_eq!(StoreId::new(good).expect(good).as_str(), good);
        }
        for bad in ["", "-a", "a-", "a--b", "Mill", "a b", "é", "a_b", &"x".repeat(CODE_MAX + 1)] {
            assert!(StoreId::new(bad).is_err(), "{bad:?} was taken");
        }
    }

    #[test]
    fn a_code_is_a_string_in_json() {
        let id: ItemId = serde_json::from_str("\"potato\"").unwrap();
        assert_eq!(serde_json::to_string(&id).unwrap(), "\"potato\"");
        assert!(serde_json::from_str::<ItemId>("\"Po tato\"").is_err());
    }
}
