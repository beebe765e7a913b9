//! The chain of the demo: a valley, six stores, what they buy, prepare and sell. All of it is
//! invented; yields and times to begin with are common practice in the trade and have no source.

use anyhow::Context;
use chrono::{DateTime, Utc};
use parings_core::calendar::BusinessDate;
use parings_core::catalog::{Catalog, Document, Kind, Price};
use parings_core::ids::WriteId;
use serde_json::Value;

use super::{Hand, done};
use crate::app::reference::{self, Change};
use crate::app::writes::Expected;
use crate::edge::new_id;
use crate::starting;

/// The documents in an order in which none names a later one.
const FILES: [&str; 4] = [
    include_str!("data/chain.json"),
    include_str!("data/items.json"),
    include_str!("data/prices.json"),
    include_str!("data/menu.json"),
];

/// The documents with their codes.
///
/// # Errors
/// When a file is not what it should be, which a test rules out.
pub fn documents() -> anyhow::Result<Vec<(String, Document)>> {
    let mut all = Vec::new();
    for file in FILES {
        let file: Vec<(String, String, Value)> = serde_json::from_str(file)?;
        for (word, code, body) in file {
            let kind = Kind::from_word(&word).with_context(|| format!("no kind {word}"))?;
            let document = kind.read(&body).with_context(|| format!("{word} {code}"))?;
            all.push((code, document));
        }
    }
    Ok(all)
}

/// The chain's catalogue: the starting values with its documents over them.
///
/// # Errors
/// As [`documents`].
pub fn catalog() -> anyhow::Result<Catalog> {
    let starting = starting::documents()?;
    Ok(Catalog::from_documents(starting.into_iter().chain(documents()?))?)
}

/// Puts the documents in force from a future date on, as head office does.
pub(super) async fn open(
    office: &Hand,
    at: DateTime<Utc>,
    from: BusinessDate,
) -> anyhow::Result<()> {
    let begun = starting::catalog()?;
    for (code, document) in documents()? {
        let known = match document.kind() {
            Kind::Settings => begun.settings.is_some(),
            Kind::Channel => begun.channels.keys().any(|known| known.as_str() == code),
            _ => false,
        };
        let expected = if known { Expected::Something } else { Expected::Nothing };
        put(office, at, &expected, code, document, from).await?;
    }
    Ok(())
}

/// Fish becomes dearer from a date on.
pub(super) async fn raise_price_of_fish(
    office: &Hand,
    at: DateTime<Utc>,
    from: BusinessDate,
) -> anyhow::Result<()> {
    let price: Price = serde_json::from_value(serde_json::json!({
        "price": "49.60", "per": { "value": "1", "unit": "case" },
    }))?;
    let document = Document::Price(price);
    put(office, at, &Expected::Something, "fish-fillet".to_owned(), document, from).await
}

async fn put(
    office: &Hand,
    at: DateTime<Utc>,
    expected: &Expected,
    code: String,
    document: Document,
    from: BusinessDate,
) -> anyhow::Result<()> {
    let deps = office.at(at);
    let kind = document.kind();
    let what = format!("{} {code}", kind.word());
    let change = Change {
        write_id: WriteId(new_id()),
        kind,
        code,
        valid_from: from,
        reason: None,
        document: Some(document),
    };
    done(&what, reference::change(&deps, &office.caller, expected, change, |_| ()).await)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_documents_hold_together_in_their_order() {
        let mut all = starting::catalog().unwrap();
        for (code, document) in documents().unwrap() {
            assert_eq!(all.flaws(&code, &document), [], "{} {code}", document.kind().word());
            all.put(&code, document).unwrap();
        }
        assert_eq!((all.stores.len(), all.districts.len(), all.owners.len()), (6, 2, 2));
        let zones: std::collections::BTreeSet<_> =
            all.stores.values().map(|s| s.zone.name()).collect();
        assert_eq!(zones.len(), 2);
    }

    #[test]
    fn every_item_has_a_price_or_is_made_of_what_has_one() {
        let all = catalog().unwrap();
        for id in all.items.keys() {
            assert!(all.unit_price(id).is_some(), "{id}");
        }
    }

    /// Invariant 9: recipe data alone proves nobody's food free from anything.
    #[test]
    fn no_title_claims_what_recipes_cannot_prove() {
        let text = FILES.concat().to_lowercase();
        for claim in ["free from", "-free", "vegan", "vegetarian", "halal", "kosher"] {
            assert!(!text.contains(claim), "{claim}");
        }
    }
}
