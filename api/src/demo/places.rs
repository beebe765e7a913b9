//! The stores of the demo, how each trades, and as many more as somebody asks for.

use parings_core::catalog::{Document, Kind};
use serde_json::json;

/// How a store trades.
#[derive(Debug, Clone)]
pub struct Place {
    /// Its code.
    pub code: String,
    /// What its chance starts from.
    pub seed: u64,
    /// Orders on an ordinary day.
    pub orders: f64,
    /// How much is served, as a multiple of the recipe.
    pub portion: f64,
    /// How much is thrown away, as a multiple of what is usual.
    pub waste: f64,
    /// How unevenly it is thrown away, as a multiple of what is usual.
    pub uneven: f64,
}

/// Code, orders on an ordinary day, and how much is served as a multiple of the recipe. The first
/// six are a small chain by themselves.
const NAMED: [(&str, f64, f64); 24] = [
    ("hethermill", 270.0, 1.016),
    ("stannock", 190.0, 1.034),
    ("polwarren", 95.0, 1.024),
    ("dunsaly", 230.0, 1.020),
    ("varrowmouth", 310.0, 1.041),
    ("ferrytoft", 80.0, 1.013),
    ("cressbeck", 215.0, 1.022),
    ("marrowford", 240.0, 1.019),
    ("tollgarth", 205.0, 1.026),
    ("aldersike", 180.0, 1.021),
    ("quillow", 250.0, 1.024),
    ("sedgeholm", 225.0, 1.018),
    ("gullwick", 260.0, 1.023),
    ("brinemouth", 235.0, 1.020),
    ("kelderby", 220.0, 1.025),
    ("pansand", 200.0, 1.022),
    ("sluicegate", 245.0, 1.019),
    ("samphire-row", 60.0, 1.020),
    ("harrowdune", 255.0, 1.021),
    ("whinsea", 210.0, 1.024),
    ("terncliff", 240.0, 1.020),
    ("lugsands", 195.0, 1.023),
    ("marramend", 230.0, 1.017),
    ("bathing-steps", 75.0, 1.022),
];

/// Stores that throw more away than is usual, and one that does so unevenly: a small one, which looks
/// worse than it is.
const WASTE: [(&str, f64, f64); 2] = [("gullwick", 1.8, 1.0), ("samphire-row", 1.0, 3.5)];

/// Stores in the demo that nobody asked to be larger.
pub const STORES: usize = NAMED.len();

/// Stores of a district that is made up beside the named ones.
const IN_A_DISTRICT: usize = 12;
/// Districts of a region that is made up.
const IN_A_REGION: usize = 10;

/// So many stores: the named ones, then made-up ones, which are smaller, so that a chain for load
/// fits a disk.
pub fn places(stores: usize, seed: u64) -> Vec<Place> {
    let named = NAMED.iter().enumerate().map(|(n, (code, orders, portion))| {
        let waste = WASTE.iter().find(|(wasteful, ..)| wasteful == code);
        let (waste, uneven) = waste.map_or((1.0, 1.0), |(_, waste, uneven)| (*waste, *uneven));
        let (code, seed) = ((*code).to_owned(), seed ^ (411 + n as u64));
        Place { code, seed, orders: *orders, portion: *portion, waste, uneven }
    });
    let more = (STORES..stores).map(|n| {
        let seed = seed ^ (411 + n as u64);
        let turn = |of: usize| (n * 37 % of) as f64 / of as f64;
        Place {
            code: code(n),
            seed,
            orders: 45.0 + 40.0 * turn(41),
            portion: 1.015 + 0.02 * turn(29),
            waste: 0.9 + 0.2 * turn(23),
            uneven: 1.0,
        }
    });
    named.take(stores).chain(more).collect()
}

fn code(n: usize) -> String {
    format!("bank-{n:04}")
}

/// The documents of the stores that are made up, those that others name first.
///
/// # Errors
/// When one is not what it should be, which a test rules out.
pub fn documents(stores: usize) -> anyhow::Result<Vec<(String, Document)>> {
    let mut all = Vec::new();
    let mut put = |kind: Kind, code: String, body: serde_json::Value| {
        all.push((code, kind.read(body)?));
        anyhow::Ok(())
    };
    for n in STORES..stores {
        let district = n / IN_A_DISTRICT;
        let region = district / IN_A_REGION;
        let (in_district, in_region) =
            (format!("reach-{district:03}"), format!("shore-{region:02}"));
        let first = n == STORES;
        if first || n.is_multiple_of(IN_A_DISTRICT) {
            if first || district.is_multiple_of(IN_A_REGION) {
                let title = format!("Shore {region}");
                put(Kind::Region, in_region.clone(), json!({ "title": title }))?;
            }
            let body = json!({ "title": format!("Reach {district}"), "region": in_region });
            put(Kind::District, in_district.clone(), body)?;
        }
        let zone = if district.is_multiple_of(2) { "Europe/Madrid" } else { "Europe/Lisbon" };
        let body = json!({
            "title": format!("Bank {n}"), "district": in_district, "owner": "oskerrin-griddle",
            "format": "counter", "zone": zone, "feed": true,
            "open": ["mon", "tue", "wed", "thu", "fri", "sat", "sun"],
        });
        put(Kind::Store, code(n), body)?;
    }
    Ok(all)
}
