use std::collections::BTreeMap;

use crate::calendar::BusinessDate;
use crate::catalog::{Catalog, Item, Store, UnitName};
use crate::ids::{ItemId, PackId, PanId, PlaceId, StageId, StoreId};
use crate::quantity::Quantity;

/// What a store counts on a date, in the order in which it is walked.
///
/// It never says what a count should come to: who counts is to look at the shelf, not at a figure.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CountSheet {
    /// The store whose sheet it is.
    pub store: StoreId,
    /// What people call it.
    pub title: String,
    /// The business date that is counted for.
    pub date: BusinessDate,
    /// Whether the store stays closed on that date; then nothing is due.
    pub closed: bool,
    /// What is to be counted, in the order of the walk.
    pub lines: Vec<SheetLine>,
}

/// A line of the sheet: an item at one stage in one place.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SheetLine {
    /// The storage place to look in.
    pub place: PlaceId,
    /// What people call the place.
    pub place_title: String,
    /// The item to count.
    pub item: ItemId,
    /// What people call the item.
    pub title: String,
    /// The stage the item is in; none for as purchased.
    pub stage: Option<SheetStage>,
    /// The unit to count in; any other of the item may be typed.
    pub unit: UnitName,
    /// Every pack the item comes in.
    pub packs: Vec<SheetPack>,
    /// The pans it may be weighed in.
    pub pans: Vec<SheetPan>,
}

/// A stage on the sheet.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SheetStage {
    /// The code that a line of the count names the stage by.
    pub code: StageId,
    /// What people call it.
    pub title: String,
}

/// A pack on the sheet.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SheetPack {
    /// The code that a typed amount names the pack by.
    pub code: PackId,
    /// What it is, in words: "Bag of 22.68 kg".
    pub says: String,
}

/// A pan on the sheet.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SheetPan {
    /// The code that a line of the count names the pan by.
    pub code: PanId,
    /// What people call it.
    pub title: String,
    /// What it weighs empty.
    pub tare: Quantity,
}

/// The sheet of a store on a date: the items due by their rhythm, by place as the store walks and
/// then by title; stages of one item stand in order of work. Nothing on a day it stays closed.
///
/// ```
/// use parings_core::catalog::{Catalog, Kind};
/// use parings_core::ids::StoreId;
/// use parings_core::night::sheet;
///
/// let mut catalog = Catalog::default();
/// let documents = [
///     (Kind::Place, "cold-room", r#"{"title":"Cold room","turn":1}"#),
///     (Kind::Store, "ford", r#"{"title":"Ford","district":"upper","owner":"brook",
///        "format":"counter","zone":"Europe/Berlin","open":["fri","sat"]}"#),
///     (Kind::Item, "potato", r#"{"title":"Potatoes","group":"food","base":"mass",
///        "packs":[{"code":"bag","title":"Bag","holds":{"value":"22.68","unit":"kg"}}],
///        "rhythm":{"every":"night"},"shelves":[{"place":"cold-room","unit":"bag"}]}"#),
/// ];
/// for (kind, code, text) in documents {
///     let read = kind.read(&mut serde_json::Deserializer::from_str(text)).unwrap();
///     catalog.put(code, read).unwrap();
/// }
/// let ford = StoreId::new("ford").unwrap();
/// let friday = "2025-06-13".parse().unwrap();
/// let due = sheet(&catalog, &ford, &catalog.stores[&ford], friday);
/// assert_eq!(due.lines.len(), 1);
/// assert_eq!(due.lines[0].packs[0].says, "Bag of 22.68 kg");
///
/// let sunday = "2025-06-15".parse().unwrap();
/// let closed = sheet(&catalog, &ford, &catalog.stores[&ford], sunday);
/// assert!(closed.closed && closed.lines.is_empty());
/// ```
pub fn sheet(catalog: &Catalog, id: &StoreId, store: &Store, date: BusinessDate) -> CountSheet {
    let closed = !store.is_open(date);
    let mut lines: Vec<_> = catalog
        .items
        .iter()
        .filter(|(_, item)| catalog.is_due(item, store, date))
        .flat_map(|(id, item)| lines_of(catalog, id, item))
        .collect();
    let turns: BTreeMap<&PlaceId, usize> =
        catalog.walk(store).into_iter().enumerate().map(|(turn, place)| (place, turn)).collect();
    // A stable sort: what ties is in order of item code, and within an item in order of work.
    lines.sort_by(|a, b| {
        let turn = |line: &SheetLine| turns.get(&line.place).copied().unwrap_or(usize::MAX);
        (turn(a), &a.place, &a.title, &a.item).cmp(&(turn(b), &b.place, &b.title, &b.item))
    });
    CountSheet { store: id.clone(), title: store.title.clone(), date, closed, lines }
}

fn lines_of(catalog: &Catalog, id: &ItemId, item: &Item) -> Vec<SheetLine> {
    let order = |code: Option<&StageId>| {
        let stages = item.stages.stages();
        code.and_then(|code| stages.iter().position(|s| s.code == *code)).map(|at| at + 1)
    };
    let mut shelves: Vec<_> = item.shelves.iter().collect();
    shelves.sort_by_key(|shelf| order(shelf.stage.as_ref()));
    let line = |shelf: &crate::catalog::Shelf| SheetLine {
        place: shelf.place.clone(),
        place_title: catalog
            .places
            .get(&shelf.place)
            .map_or_else(|| shelf.place.to_string(), |place| place.title.clone()),
        item: id.clone(),
        title: item.title.clone(),
        stage: shelf.stage.as_ref().map(|code| SheetStage {
            code: code.clone(),
            title: item
                .stages
                .stage(code)
                .map_or_else(|_| code.to_string(), |stage| stage.title.clone()),
        }),
        unit: shelf.unit.clone(),
        packs: packs_of(item),
        pans: item
            .pans
            .iter()
            .map(|pan| SheetPan {
                code: pan.code.clone(),
                title: pan.title.clone(),
                tare: pan.tare,
            })
            .collect(),
    };
    shelves.into_iter().map(line).collect()
}

/// What each pack is, in words. A pack may hold packs that stand before it.
fn packs_of(item: &Item) -> Vec<SheetPack> {
    let mut said: Vec<SheetPack> = Vec::new();
    for pack in &item.packs {
        let number = pack.holds.value().normalize();
        let inside = match pack.holds.unit() {
            UnitName::Standard(unit) => format!("{number} {unit}"),
            UnitName::Pack(inner) => match said.iter().find(|p| p.code == *inner) {
                Some(inner) => format!("{number} × {}", inner.says),
                None => format!("{number} {inner}"),
            },
        };
        let says = format!("{} of {inside}", pack.title);
        said.push(SheetPack { code: pack.code.clone(), says });
    }
    said
}

#[cfg(test)]
mod tests {
    use serde_json::{Value, json};

    use super::*;
    use crate::catalog::Kind;

    fn catalog(documents: &[(Kind, &str, Value)]) -> Catalog {
        let read = |(kind, code, body): &(Kind, &str, Value)| {
            ((*code).to_owned(), kind.read(body).expect(code))
        };
        Catalog::from_documents(documents.iter().map(read)).unwrap()
    }

    fn store(walk: &[&str]) -> Value {
        json!({ "title": "Ford", "district": "upper", "owner": "brook", "format": "counter",
            "zone": "Europe/Berlin", "open": ["mon", "tue", "wed", "thu", "fri", "sat"],
            "closed": ["2025-12-25"], "walk": walk })
    }

    fn item(title: &str, rhythm: Value, shelves: Value) -> Value {
        json!({ "title": title, "group": "food", "base": "mass", "rhythm": rhythm,
            "shelves": shelves,
            "stages": [
                { "code": "trim", "title": "Trimmed", "standard": "0.9", "cap": "1", "low": "0.8", "high": "1" },
                { "code": "chill", "title": "Chilled", "standard": "0.9", "cap": "1", "low": "0.8", "high": "1" },
            ] })
    }

    fn places() -> Vec<(Kind, &'static str, Value)> {
        vec![
            (Kind::Place, "dry", json!({ "title": "Dry store", "turn": 1 })),
            (Kind::Place, "cold", json!({ "title": "Cold room", "turn": 2 })),
            (Kind::Place, "line", json!({ "title": "Line", "turn": 3 })),
        ]
    }

    fn shown(documents: Vec<(Kind, &str, Value)>, date: &str) -> Vec<String> {
        let catalog = catalog(&documents);
        let ford = StoreId::new("ford").unwrap();
        let due = sheet(&catalog, &ford, &catalog.stores[&ford], date.parse().unwrap());
        let stage = |l: &SheetLine| l.stage.as_ref().map_or("bought".into(), |s| s.title.clone());
        due.lines.iter().map(|l| format!("{}: {} {}", l.place_title, l.title, stage(l))).collect()
    }

    fn one(place: &str) -> Value {
        json!([{ "place": place, "unit": "kg" }])
    }

    #[test]
    fn lines_follow_the_walk_then_the_title_then_the_work() {
        let mut documents = places();
        let night = json!({ "every": "night" });
        let staged = json!([
            { "place": "cold", "stage": "chill", "unit": "kg" },
            { "place": "cold", "stage": "trim", "unit": "kg" },
            { "place": "dry", "unit": "kg" },
            { "place": "cold", "unit": "kg" },
        ]);
        documents.push((Kind::Item, "a-potato", item("Potatoes", night.clone(), staged)));
        documents.push((Kind::Item, "z-beans", item("Beans", night.clone(), one("cold"))));
        documents.push((Kind::Item, "salt", item("Salt", night, one("line"))));
        let network = [&documents[..], &[(Kind::Store, "ford", store(&[]))]].concat();
        let expected = [
            "Dry store: Potatoes bought",
            "Cold room: Beans bought",
            "Cold room: Potatoes bought",
            "Cold room: Potatoes Trimmed",
            "Cold room: Potatoes Chilled",
            "Line: Salt bought",
        ];
        assert_eq!(shown(network, "2025-06-13"), expected);

        documents.push((Kind::Store, "ford", store(&["line"])));
        assert_eq!(shown(documents, "2025-06-13")[..2], [expected[5], expected[0]]);
    }

    #[test]
    fn only_what_is_due_is_listed() {
        let mut documents = places();
        let week = json!({ "every": "week", "on": "fri" });
        documents.push((Kind::Item, "a", item("Nightly", json!({ "every": "night" }), one("dry"))));
        documents.push((Kind::Item, "b", item("Weekly", week, one("dry"))));
        documents.push((
            Kind::Item,
            "c",
            item("Monthly", json!({ "every": "period" }), one("dry")),
        ));
        documents.push((
            Kind::Item,
            "d",
            item("Flows through", json!({ "every": "never" }), one("dry")),
        ));
        documents.push((Kind::Store, "ford", store(&[])));
        // 2025-06-12 was a Thursday, 2025-06-30 a Monday.
        let titles = |documents: &[(Kind, &str, Value)], date| {
            let lines = shown(documents.to_vec(), date);
            lines.iter().map(|l| l.split(' ').nth(2).unwrap().to_owned()).collect::<Vec<_>>()
        };
        assert_eq!(titles(&documents, "2025-06-12"), ["Nightly"]);
        assert_eq!(titles(&documents, "2025-06-13"), ["Nightly", "Weekly"]);
        assert_eq!(titles(&documents, "2025-06-30"), ["Monthly", "Nightly"]);
        // A Sunday, and a day closed out of turn.
        assert!(
            titles(&documents, "2025-06-15").is_empty()
                && titles(&documents, "2025-12-25").is_empty()
        );
        // 31 August 2025 was a Sunday: the books close on Saturday.
        assert_eq!(titles(&documents, "2025-08-30"), ["Monthly", "Nightly"]);

        // Periods of weeks: 2025 starts on Monday 3 February, its first period ends on 2 March.
        let settings = json!({ "title": "Chain", "currency": "EUR", "count_error": "0.02",
            "sample_nights": 7, "minimum_tickets": 30, "lump": { "tickets": 5, "within": 10 },
            "doubtful_tickets": "0.05",
            "periods": { "weeks": { "pattern": "4-4-5", "on": "mon", "nearest": "02-01" } } });
        documents.push((Kind::Settings, "network", settings));
        assert_eq!(titles(&documents, "2025-06-30"), ["Nightly"]);
        assert_eq!(titles(&documents, "2025-03-01"), ["Monthly", "Nightly"]);
    }

    #[test]
    fn packs_and_pans_are_told_in_words() {
        let mut documents = places();
        documents.push((Kind::Store, "ford", store(&[])));
        documents.push((
            Kind::Item,
            "sauce",
            json!({ "title": "Sauce", "group": "food", "base": "volume", "rhythm": { "every": "night" },
                "bridge": { "density": "1.1" },
                "packs": [
                    { "code": "tub", "title": "Tub", "holds": { "value": "2.50", "unit": "l" } },
                    { "code": "case", "title": "Case", "holds": { "value": "6", "unit": "tub" } },
                ],
                "pans": [{ "code": "sixth", "title": "Sixth pan", "tare": { "value": "0.45", "unit": "kg" } }],
                "shelves": [{ "place": "cold", "unit": "case" }] }),
        ));
        let catalog = catalog(&documents);
        let ford = StoreId::new("ford").unwrap();
        let friday = "2025-06-13".parse().unwrap();
        let due = sheet(&catalog, &ford, &catalog.stores[&ford], friday);
        let packs: Vec<_> = due.lines[0].packs.iter().map(|p| p.says.as_str()).collect();
        assert_eq!(packs, ["Tub of 2.5 l", "Case of 6 × Tub of 2.5 l"]);
        assert_eq!(due.lines[0].unit.to_string(), "case");
        assert_eq!(due.lines[0].pans[0].tare.to_string(), "0.45 kg");
    }
}
