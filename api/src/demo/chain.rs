//! The chain of the demo: a valley, six stores, what they buy, prepare and sell. All of it is
//! invented; yields and times to begin with are common practice in the trade and have no source.

use anyhow::Context;
use chrono::{DateTime, Utc};
use parings_core::calendar::BusinessDate;
use parings_core::catalog::{Catalog, Document, Kind, Price, Store};
use serde_json::Value;

use super::places::{self, Place};
use super::{Hand, done, morning, write};
use crate::app::ground::writes::Expected;
use crate::app::office::reference::{self, Change};
use crate::starting;

/// Nights before the last from which on a store is in another district.
const MOVED: i64 = 34;
/// Nights before the last from which on fish is dearer.
const DEARER: i64 = 5;

/// The documents in an order in which none names a later one.
const FILES: [&str; 4] = [
    include_str!("data/chain.json"),
    include_str!("data/items.json"),
    include_str!("data/prices.json"),
    include_str!("data/menu.json"),
];

/// The documents with their codes; of stores those of some places.
///
/// # Errors
/// When a file is not what it should be, which a test rules out.
pub fn documents(places: &[Place]) -> anyhow::Result<Vec<(String, Document)>> {
    let here = |code: &str| places.iter().any(|place| place.code == code);
    let mut all = Vec::new();
    for file in FILES {
        let file: Vec<(String, String, Value)> = serde_json::from_str(file)?;
        for (word, code, body) in file {
            let kind = Kind::from_word(&word).with_context(|| format!("no kind {word}"))?;
            let document = kind.read(&body).with_context(|| format!("{word} {code}"))?;
            if kind != Kind::Store || here(&code) {
                all.push((code, document));
            }
        }
    }
    all.extend(places::documents(places.len())?);
    Ok(all)
}

/// The chain's catalogue: the starting values with its documents over them.
///
/// # Errors
/// As [`documents`].
pub fn catalog(places: &[Place]) -> anyhow::Result<Catalog> {
    let starting = starting::documents()?;
    Ok(Catalog::from_documents(starting.into_iter().chain(documents(places)?))?)
}

/// Puts the documents in force from a future date on, as head office does.
pub(super) async fn open(
    office: &Hand,
    places: &[Place],
    at: DateTime<Utc>,
    from: BusinessDate,
) -> anyhow::Result<()> {
    let begun = starting::catalog()?;
    for (code, document) in documents(places)? {
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

/// What head office changes while the weeks go by: a store comes to another district, and fish
/// becomes dearer.
pub(super) async fn live(
    office: &Hand,
    places: &[Place],
    first: BusinessDate,
    last: BusinessDate,
) -> anyhow::Result<()> {
    let moves = last.plus_days(-MOVED);
    if let Some((code, document)) = moved(places)?.filter(|_| moves.plus_days(-3) > first) {
        put(office, morning(moves.plus_days(-3)), &Expected::Something, code, document, moves)
            .await?;
    }
    let dearer = last.plus_days(-DEARER);
    let price: Price = serde_json::from_value(serde_json::json!({
        "price": "49.60", "per": { "value": "1", "unit": "case" },
    }))?;
    let (code, document) = ("fish-fillet".to_owned(), Document::Price(price));
    put(office, morning(dearer.plus_days(-3)), &Expected::Something, code, document, dearer).await
}

/// The store that comes to another district, as it is there; none where there is no such store.
fn moved(places: &[Place]) -> anyhow::Result<Option<(String, Document)>> {
    let (moving, district) = ("tollgarth", "headwaters");
    for (code, document) in documents(places)? {
        if let Document::Store(store) = document
            && code == moving
        {
            let store = Store { district: district.parse()?, ..store };
            return Ok(Some((code, Document::Store(store))));
        }
    }
    Ok(None)
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
        write: write(&what),
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
        for (code, document) in documents(&places::places(60, 0)).unwrap() {
            assert_eq!(all.flaws(&code, &document), [], "{} {code}", document.kind().word());
            all.put(&code, document).unwrap();
        }
        assert_eq!((all.stores.len(), all.districts.len(), all.owners.len()), (60, 7, 3));
        let zones: std::collections::BTreeSet<_> =
            all.stores.values().map(|s| s.zone.name()).collect();
        assert_eq!(zones.len(), 2);
    }

    #[test]
    fn every_item_has_a_price_or_is_made_of_what_has_one() {
        let all = catalog(&places::places(6, 0)).unwrap();
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
