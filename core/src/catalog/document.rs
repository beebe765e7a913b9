use serde::{Deserialize, Serialize};

use super::{
    Addition, Channel, DaypartSet, District, Format, Item, Owner, Price, Product, Reason, Region,
    Settings, StoragePlace, Store,
};
use crate::ids::{ItemId, KEPT};

/// Something wrong with a document, and where (JSON Pointer into it).
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Flaw {
    /// JSON Pointer to what is wrong; empty for the document as a whole.
    pub at: String,
    /// What is wrong there, as a sentence for people.
    pub says: String,
}

impl Flaw {
    /// A flaw at a place.
    pub fn new(at: impl Into<String>, says: impl Into<String>) -> Self {
        Self { at: at.into(), says: says.into() }
    }
}

macro_rules! kinds {
    ($($(#[$doc:meta])* $kind:ident($body:ty) = $word:literal;)*) => {
        /// A kind of reference document.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub enum Kind { $($(#[$doc])* $kind,)* }

        impl Kind {
            /// Every kind, those that others name first.
            pub const ALL: &[Self] = &[$(Self::$kind,)*];

            /// The kind's word in the API and the database.
            pub fn word(self) -> &'static str {
                match self { $(Self::$kind => $word,)* }
            }

            /// The kind of a word.
            pub fn from_word(word: &str) -> Option<Self> {
                match word { $($word => Some(Self::$kind),)* _ => None }
            }
        }

        /// A reference document.
        #[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
        #[serde(untagged)]
        pub enum Document { $($(#[$doc])* $kind($body),)* }

        impl Document {
            /// Which kind of document it is.
            pub fn kind(&self) -> Kind {
                match self { $(Self::$kind(_) => Kind::$kind,)* }
            }
        }

        impl Kind {
            /// Reads a document of this kind.
            ///
            /// # Errors
            /// The reader's, when the content is of another shape.
            pub fn read<'de, D: serde::Deserializer<'de>>(self, from: D) -> Result<Document, D::Error> {
                match self {
                    $(Self::$kind => <$body>::deserialize(from).map(Document::$kind),)*
                }
            }
        }
    };
}

kinds! {
    /// What holds for the whole network.
    Settings(Settings) = "settings";
    /// A region, which holds districts.
    Region(Region) = "regions";
    /// A district: the stores of one area coach.
    District(District) = "districts";
    /// A company or person that holds stores.
    Owner(Owner) = "owners";
    /// A kind of store.
    Format(Format) = "formats";
    /// A place where stock is kept.
    Place(StoragePlace) = "places";
    /// A store, with its hours, its time zone and where it belongs.
    Store(Store) = "stores";
    /// A set of dayparts.
    Dayparts(DaypartSet) = "dayparts";
    /// A way in which orders come.
    Channel(Channel) = "channels";
    /// Why something was thrown away.
    Reason(Reason) = "reasons";
    /// Something that is bought, prepared or counted.
    Item(Item) = "items";
    /// The standard price of an item.
    Price(Price) = "prices";
    /// A product on the menu, with its sizes and recipes.
    Product(Product) = "products";
    /// Something a guest may add to a product.
    Addition(Addition) = "additions";
}

impl Document {
    /// What is wrong with the document by itself; [`super::Catalog::flaws`] checks what it names.
    pub fn flaws(&self, code: &str) -> Vec<Flaw> {
        match self {
            Self::Item(item) => match ItemId::new(code) {
                Ok(id) => item.flaws(&id),
                Err(e) => vec![Flaw::new("", e.to_string())],
            },
            Self::Product(product) => product.flaws(),
            Self::Dayparts(set) => set.flaws(),
            Self::Store(store) => store.flaws(),
            Self::Channel(_) if KEPT.contains(&code) => {
                vec![Flaw::new("", format!("the code {code} is kept"))]
            }
            Self::Settings(_) if code != "network" => {
                vec![Flaw::new("", "the one settings document has the code network")]
            }
            Self::Settings(settings) => settings.flaws(),
            _ => Vec::new(),
        }
    }
}
