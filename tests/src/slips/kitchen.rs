//! An invented store: forty items of every kind that is counted.

use parings_core::catalog::{Catalog, Kind};
use parings_core::ids::{ItemId, StoreId};
use serde_json::{Value, json};

use super::chance::Chance;

/// How an item lies on its shelves.
#[derive(Clone, Copy, PartialEq)]
pub enum Lies {
    /// Whole packs in reserve, the rest weighed loose.
    ReserveAndLoose,
    /// Whole packs in reserve, the rest prepared (at the last stage) in a pan.
    ReserveAndPrepared,
    /// All of it weighed in one place, in a pan.
    InPan,
    /// Whole packs in one place and single ones in another.
    PacksAndSingles,
    /// All of it in one place, in the shelf's unit.
    OnePlace,
}

/// An item as the store uses it.
pub struct Stocked {
    pub id: ItemId,
    pub lies: Lies,
    /// Base units in a unit of the loose shelf.
    pub loose_unit: f64,
    /// Decimals that are read off.
    pub places: u32,
    /// Base units in the pack that it is delivered and stored in.
    pub pack: f64,
    pub pack_code: &'static str,
    /// Base units of one portion, as purchased.
    pub portion: f64,
    /// Portions on a usual night.
    pub sold: f64,
    /// The yield up to the stage of the prepared shelf.
    pub yielded: f64,
    pub tare: Option<f64>,
    pub loose: String,
    pub stage: Option<&'static str>,
    /// Used beyond the recipe, on average.
    pub bias: f64,
}

/// One kind of item: how it lies, its base, the loose unit with its size and decimals, pack, use.
struct Sort {
    name: &'static str,
    many: usize,
    lies: Lies,
    base: &'static str,
    loose: &'static [(&'static str, f64, u32)],
    packs: &'static [(&'static str, f64)],
    used: (f64, f64),
    portion: f64,
    price: (f64, f64),
    tare: Option<(f64, f64)>,
}

const SORTS: &[Sort] = &[
    Sort {
        name: "heavy",
        many: 7,
        lies: Lies::ReserveAndPrepared,
        base: "mass",
        loose: &[("kg", 1000.0, 2), ("kg", 1000.0, 2), ("lb", 453.59237, 2)],
        packs: &[("bag", 22_680.0), ("case", 10_000.0)],
        used: (15_000.0, 70_000.0),
        portion: 180.0,
        price: (0.0008, 0.006),
        tare: Some((900.0, 2_500.0)),
    },
    Sort {
        name: "weighed",
        many: 8,
        lies: Lies::ReserveAndLoose,
        base: "mass",
        loose: &[("kg", 1000.0, 2)],
        packs: &[("sack", 25_000.0), ("box", 5_000.0), ("bag", 2_500.0)],
        used: (3_000.0, 20_000.0),
        portion: 60.0,
        price: (0.001, 0.009),
        tare: None,
    },
    Sort {
        name: "each",
        many: 9,
        lies: Lies::PacksAndSingles,
        base: "count",
        loose: &[("each", 1.0, 0)],
        packs: &[("tray", 48.0), ("sleeve", 50.0), ("box", 24.0), ("carton", 100.0)],
        used: (40.0, 400.0),
        portion: 1.0,
        price: (0.03, 0.6),
        tare: None,
    },
    Sort {
        name: "liquid",
        many: 6,
        lies: Lies::ReserveAndLoose,
        base: "volume",
        loose: &[("l", 1000.0, 1)],
        packs: &[("jug", 10_000.0), ("tub", 2_500.0), ("can", 5_000.0)],
        used: (2_000.0, 12_000.0),
        portion: 30.0,
        price: (0.001, 0.008),
        tare: None,
    },
    Sort {
        name: "tub",
        many: 7,
        lies: Lies::InPan,
        base: "mass",
        loose: &[("kg", 1000.0, 2), ("g", 1.0, 0)],
        packs: &[("bucket", 3_000.0), ("bag", 1_000.0)],
        used: (400.0, 3_000.0),
        portion: 15.0,
        price: (0.004, 0.02),
        tare: Some((250.0, 700.0)),
    },
    Sort {
        name: "dry",
        many: 3,
        lies: Lies::OnePlace,
        base: "mass",
        loose: &[("kg", 1000.0, 1)],
        packs: &[("bag", 5_000.0)],
        used: (500.0, 2_500.0),
        portion: 5.0,
        price: (0.001, 0.004),
        tare: None,
    },
];

/// The store's code.
pub fn store() -> StoreId {
    StoreId::new("weir").expect("a code")
}

/// The catalogue of a seed, and the items as the store uses them.
pub fn kitchen(chance: &mut Chance) -> (Catalog, Vec<Stocked>) {
    let mut documents: Vec<(Kind, String, Value)> = vec![
        (
            Kind::Settings,
            "network".into(),
            json!({ "title": "Invented", "currency": "EUR", "count_error": "0.02",
                "sample_nights": 7, "minimum_tickets": 30,
                "lump": { "tickets": 5, "within": 10 }, "doubtful_tickets": "0.05" }),
        ),
        (
            Kind::Store,
            "weir".into(),
            json!({ "title": "Weir", "district": "upper", "owner": "brook", "format": "counter",
                "zone": "Europe/Berlin", "feed": true,
                "open": ["mon", "tue", "wed", "thu", "fri", "sat", "sun"],
                "hours": { "from": "11:00", "to": "22:00" } }),
        ),
        (Kind::Place, "dry-store".into(), json!({ "title": "Dry store", "turn": 1 })),
        (Kind::Place, "cold-room".into(), json!({ "title": "Cold room", "turn": 2 })),
        (Kind::Reason, "expired".into(), json!({ "title": "Expired", "safety": false })),
    ];
    let mut stocked = Vec::new();
    for sort in SORTS {
        for n in 1..=sort.many {
            let id = format!("{}-{n}", sort.name);
            let item = item(sort, &id, chance);
            documents.extend(reference(sort, &item, &id, chance));
            stocked.push(item);
        }
    }
    let read = |(kind, code, body): (Kind, String, Value)| {
        let document = kind.read(&body).unwrap_or_else(|e| panic!("{code}: {e}"));
        (code, document)
    };
    let catalog = Catalog::from_documents(documents.into_iter().map(read)).expect("codes");
    (catalog, stocked)
}

fn item(sort: &Sort, id: &str, chance: &mut Chance) -> Stocked {
    let (loose, loose_unit, places) = *chance.one_of(sort.loose).expect("a unit");
    let (pack_code, pack) = *chance.one_of(sort.packs).expect("a pack");
    let portion = sort.portion * chance.between(0.6, 1.6);
    let portion = if sort.base == "count" { 1.0 } else { portion.round() };
    let prepared = sort.lies == Lies::ReserveAndPrepared;
    Stocked {
        id: ItemId::new(id).expect("a code"),
        lies: sort.lies,
        loose_unit,
        places,
        pack,
        pack_code,
        portion,
        sold: chance.between(sort.used.0, sort.used.1) / portion,
        yielded: if prepared { 0.7 } else { 1.0 },
        tare: sort.tare.map(|(low, high)| (chance.between(low, high) / 10.0).round() * 10.0),
        loose: loose.into(),
        stage: prepared.then_some("ready"),
        bias: 0.02 + 0.02 * chance.normal(),
    }
}

fn reference(
    sort: &Sort,
    item: &Stocked,
    id: &str,
    chance: &mut Chance,
) -> Vec<(Kind, String, Value)> {
    let base = match sort.base {
        "mass" => "g",
        "volume" => "ml",
        _ => "each",
    };
    let held = |amount: f64, unit: &str| json!({ "value": amount.to_string(), "unit": unit });
    let reserve = json!({ "place": "dry-store", "unit": item.pack_code });
    let loose = json!({ "place": "cold-room", "unit": item.loose, "stage": item.stage });
    let shelves = match item.lies {
        Lies::InPan | Lies::OnePlace => json!([loose]),
        _ => json!([reserve, loose]),
    };
    let holds = match base {
        "g" => held(item.pack / 1000.0, "kg"),
        "ml" => held(item.pack / 1000.0, "l"),
        _ => held(item.pack, "each"),
    };
    let pans: Vec<Value> = item
        .tare
        .iter()
        .map(|tare| json!({ "code": "pan", "title": "Pan", "tare": held(*tare, "g") }))
        .collect();
    let stages: Vec<Value> = item
        .stage
        .iter()
        .map(|code| {
            json!({ "code": code, "title": "Ready", "standard": item.yielded.to_string(),
                "cap": "1", "low": "0.6", "high": "0.8" })
        })
        .collect();
    let price = (chance.between(sort.price.0, sort.price.1) * item.pack * 100.0).round() / 100.0;
    vec![
        (
            Kind::Item,
            id.into(),
            json!({ "title": id, "group": "food", "base": sort.base, "shelves": shelves,
                "rhythm": { "every": "night" }, "pans": pans, "stages": stages,
                "packs": [{ "code": item.pack_code, "title": item.pack_code, "holds": holds }] }),
        ),
        (
            Kind::Price,
            id.into(),
            json!({ "price": price.to_string(), "per": held(1.0, item.pack_code) }),
        ),
        (
            Kind::Product,
            format!("p-{id}"),
            json!({ "title": id, "sizes": [{ "code": "one", "title": "One", "till_codes": [id],
                "lines": [{ "item": id, "quantity": held(item.portion, base) }] }] }),
        ),
    ]
}
