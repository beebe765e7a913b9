use super::{DaypartsFor, Document, Kind, RecipeLine};

impl Document {
    /// The documents it names, by kind and code; each once. A price names its item, whose code it
    /// has. While somebody names a document, it is not to be retired.
    ///
    /// ```
    /// use parings_core::catalog::{Document, Kind};
    /// let text = r#"{"title":"Upper valley","region":"valley"}"#;
    /// let district: Document =
    ///     Kind::District.read(&mut serde_json::Deserializer::from_str(text)).unwrap();
    /// assert_eq!(district.names("upper"), [(Kind::Region, "valley".to_owned())]);
    /// ```
    pub fn names(&self, code: &str) -> Vec<(Kind, String)> {
        let mut named: Vec<(Kind, String)> = match self {
            Self::District(district) => vec![(Kind::Region, district.region.to_string())],
            Self::Store(store) => {
                let walk = store.walk.iter().map(|place| (Kind::Place, place.to_string()));
                let own = [
                    (Kind::District, store.district.to_string()),
                    (Kind::Owner, store.owner.to_string()),
                    (Kind::Format, store.format.to_string()),
                ];
                own.into_iter().chain(walk).collect()
            }
            Self::Dayparts(set) => match &set.stores {
                DaypartsFor::All => Vec::new(),
                DaypartsFor::Format(format) => vec![(Kind::Format, format.to_string())],
                DaypartsFor::Store(store) => vec![(Kind::Store, store.to_string())],
            },
            Self::Channel(channel) => {
                let formats = channel.targets.iter().filter_map(|t| t.format.as_ref());
                formats.map(|format| (Kind::Format, format.to_string())).collect()
            }
            Self::Item(item) => {
                let places = item.shelves.iter().map(|s| (Kind::Place, s.place.to_string()));
                let inputs = item.made_from.iter().flat_map(|made| &made.inputs);
                let formats = item.formats.iter().map(|f| (Kind::Format, f.to_string()));
                let inputs = inputs.map(|i| (Kind::Item, i.item.to_string()));
                places.chain(formats).chain(inputs).collect()
            }
            Self::Price(_) => vec![(Kind::Item, code.to_owned())],
            Self::Product(product) => {
                let lines = product.sizes.iter().flat_map(|size| items(&size.lines));
                let parts = product.sizes.iter().flat_map(|size| &size.parts);
                lines.chain(parts.map(|p| (Kind::Product, p.product.to_string()))).collect()
            }
            Self::Addition(addition) => items(&addition.lines).collect(),
            Self::Settings(_)
            | Self::Region(_)
            | Self::Owner(_)
            | Self::Format(_)
            | Self::Place(_)
            | Self::Reason(_) => Vec::new(),
        };
        named.sort();
        named.dedup();
        named
    }
}

fn items(lines: &[RecipeLine]) -> impl Iterator<Item = (Kind, String)> {
    lines.iter().map(|line| (Kind::Item, line.item.to_string()))
}
