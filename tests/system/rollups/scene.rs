//! Two districts in a week of June 2026, put on record as tallies. Everything is invented.
//!
//! | store | place | owner | nights of 8 to 14 June |
//! |-|-|-|-|
//! | ford | upper (valley) | brook | closed on Mondays; no count on Friday the 12th |
//! | mill | upper until the 10th, then lower (coast) | hill | no sales known on the 9th |
//! | weir | lower (coast) | hill | a partial count on Sunday the 14th |
//!
//! Potatoes are counted every night, to 2 kg, at 1.00 a kilogram; ford counts oil on Sundays, to
//! half a litre, at 2.00 a litre.

use parings::cluster::SUPERUSER;
use parings_core::access::Role;
use parings_tests::house::{House, house};
use parings_tests::tallies;
use serde_json::{Value, json};
use tokio_postgres::Client;

pub struct Scene {
    pub house: House,
    pub pg: Client,
}

pub fn day(day: u32) -> String {
    format!("2026-06-{day:02}")
}

const KG: i64 = 1_000_000;
const ONE: i64 = 10_000;

/// Where a store stood on a day of June.
fn place(store: &str, day: u32) -> (&'static str, &'static str, &'static str) {
    match store {
        "ford" => ("upper", "valley", "brook"),
        "mill" if day <= 10 => ("upper", "valley", "hill"),
        _ => ("lower", "coast", "hill"),
    }
}

impl Scene {
    pub async fn set() -> Self {
        let house = house().await;
        let pg = house.pg(SUPERUSER).await;
        let scene = Self { house, pg };
        scene.reference().await;
        for on in 9..=14 {
            scene.ford(on).await;
        }
        for on in 8..=14 {
            scene.mill(on).await;
            scene.weir(on).await;
        }
        scene
    }

    /// What somebody is answered who asks for a roll-up.
    pub async fn ask(&self, role: Role, query: &str) -> parings_tests::Reply {
        let token = self.house.token(&self.house.person(role).await);
        self.house.get(&format!("/v1/rollups?{query}"), Some(&token)).await
    }

    /// The rows of the week that somebody is answered.
    pub async fn rows(&self, role: Role, query: &str) -> Vec<Value> {
        let query = format!("{query}&from={}&to={}", day(8), day(14));
        let reply = self.ask(role, &query).await;
        reply.expect(200);
        reply.json["rows"].as_array().expect("rows").clone()
    }

    /// Puts a tally of a store and day on record: what is not said is nothing.
    pub async fn tally(&self, table: &str, store: &str, on: u32, said: Value) {
        let (district, region, owner) = place(store, on);
        let mut row = json!({
            "business_date": day(on), "store_id": store, "rules": parings_core::tally::RULES,
            "known_at": "2026-06-01T00:00:00Z",
            "district_id": district, "region_id": region, "owner_id": owner,
        });
        let said = said.as_object().expect("an object");
        row.as_object_mut().expect("an object").extend(said.clone());
        tallies::put(&self.pg, table, vec![row]).await;
    }

    /// A span of an item with a price, in thousandths of kilograms or litres.
    #[expect(clippy::too_many_arguments, reason = "one for each thing that differs")]
    async fn span(
        &self,
        store: &str,
        item: &str,
        (opened, on): (u32, u32),
        nights: i64,
        [used, expected]: [i64; 2],
        price: i64,
        sd: i64,
        sales: Option<i64>,
    ) {
        let mut row = json!({
            "item_id": item, "opened_on": day(opened), "nights": nights,
            "opening_sd": sd, "closing_sd": sd,
            "used": used * KG, "used_cost": used * price * ONE,
        });
        if let Some(sales) = sales {
            let known = json!({
                "expected": expected * KG, "expected_cost": expected * price * ONE,
                "variance_cost": (used - expected) * price * ONE, "sales": sales * ONE,
            });
            row.as_object_mut().expect("an object").extend(known.as_object().expect("one").clone());
        }
        self.tally("item_spans", store, on, row).await;
    }

    pub async fn night(&self, store: &str, on: u32, sales: Option<i64>, said: Value) {
        let mut row = json!({
            "counted": true,
            "sales_source": if sales.is_some() { "feed" } else { "none" },
            "sales": sales.map(|sales| sales * ONE), "units": sales.map(|sales| sales / 10),
        });
        row.as_object_mut().expect("one").extend(said.as_object().expect("one").clone());
        self.tally("night_tallies", store, on, row).await;
    }

    async fn ford(&self, on: u32) {
        let safety = if on == 13 { 4 } else { 0 };
        let said = json!({
            "counted": on != 12, "wasted_cost": 10 * ONE, "wasted_safety_cost": safety * ONE,
        });
        self.night("ford", on, Some(1000), said).await;
        let two = 2 * KG;
        match on {
            9 => self.span("ford", "potato", (7, 9), 1, [50, 48], 1, two, Some(1000)).await,
            12 => {}
            13 => self.span("ford", "potato", (11, 13), 2, [100, 96], 1, two, Some(2000)).await,
            _ => self.span("ford", "potato", (on - 1, on), 1, [50, 48], 1, two, Some(1000)).await,
        }
        if on == 14 {
            self.span("ford", "oil", (7, 14), 6, [20, 18], 2, KG / 2, Some(6000)).await;
        }
        let line = |reason: &str, safety: bool, kg: i64| {
            json!({ "stage": null, "reason": reason, "safety": safety, "daypart": null,
                "amount": kg * KG, "cost": kg * ONE })
        };
        let expired = 10 - safety;
        let mut waste = vec![line("expired", false, expired)];
        if safety > 0 {
            waste.push(line("cooling", true, safety));
        }
        let mut row = json!({
            "item_id": "potato", "waste": waste,
            "wasted": 10 * KG, "wasted_cost": 10 * ONE,
            "wasted_safety": safety * KG, "wasted_safety_cost": safety * ONE,
        });
        if on == 9 {
            // 181 kg out of batches that should have given 184; 35 minutes without potatoes.
            let batch = json!({
                "batch_out": 181 * KG, "batch_expected_out": 184 * KG, "stock_out_minutes": 35,
            });
            row.as_object_mut().expect("one").extend(batch.as_object().expect("one").clone());
            // Ninety tickets of five minutes.
            let dinner = json!({
                "daypart_id": "dinner", "channel_id": "counter", "units": 100, "sales": 1000 * ONE,
                "orders": 90, "times": [[300, 90]], "with_target": 90,
            });
            self.tally("daypart_tallies", "ford", on, dinner).await;
        }
        self.tally("item_days", "ford", on, row).await;
    }

    async fn mill(&self, on: u32) {
        let sales = (on != 9).then_some(500);
        self.night("mill", on, sales, json!({ "wasted_cost": 5 * ONE })).await;
        self.span("mill", "potato", (on - 1, on), 1, [30, 31], 1, 2 * KG, sales).await;
        if on == 10 {
            // Ten tickets of 20 minutes, which is bin 960, and one never closed.
            let dinner = json!({
                "daypart_id": "dinner", "channel_id": "counter", "units": 50, "sales": 500 * ONE,
                "orders": 11, "times": [[960, 10]], "with_target": 10, "late": 10,
                "never_closed": 1,
            });
            self.tally("daypart_tallies", "mill", on, dinner).await;
        }
    }

    async fn weir(&self, on: u32) {
        self.night("weir", on, Some(800), json!({ "partial": on == 14 })).await;
        self.span("weir", "potato", (on - 1, on), 1, [40, 40], 1, 2 * KG, Some(800)).await;
    }

    async fn reference(&self) {
        let titled = |title: &str| json!({ "title": title });
        let district = |region: &str| json!({ "title": region, "region": region });
        let item = |base: &str, every: Value| json!({ "title": base, "group": "food", "base": base, "rhythm": every });
        let settings = json!({
            "title": "A chain", "currency": "EUR", "count_error": "0.02", "sample_nights": 28,
            "minimum_tickets": 30, "lump": { "tickets": 5, "within": 10 },
            "doubtful_tickets": "0.05",
        });
        let week = ["mon", "tue", "wed", "thu", "fri", "sat", "sun"];
        let store = |district: &str, owner: &str, open: &[&str]| {
            json!({ "title": "A store", "district": district, "owner": owner, "format": "counter",
                "zone": "Europe/Berlin", "open": open })
        };
        let all = [
            ("settings", "network", 1, settings),
            ("regions", "valley", 1, titled("Valley")),
            ("regions", "coast", 1, titled("Coast")),
            ("districts", "upper", 1, district("valley")),
            ("districts", "lower", 1, district("coast")),
            ("owners", "brook", 1, titled("Brook")),
            ("owners", "hill", 1, titled("Hill")),
            ("items", "potato", 1, item("mass", json!({ "every": "night" }))),
            ("items", "oil", 1, item("volume", json!({ "every": "week", "on": "sun" }))),
            ("stores", "ford", 1, store("upper", "brook", &week[1..])),
            ("stores", "mill", 1, store("upper", "hill", &week)),
            ("stores", "mill", 11, store("lower", "hill", &week)),
            ("stores", "weir", 1, store("lower", "hill", &week)),
        ];
        for (kind, code, from, body) in all {
            let placed = |name: &str| body.get(name).and_then(Value::as_str).map(str::to_owned);
            let stored = (kind == "stores").then_some(code);
            let (district, owner) = (placed("district"), placed("owner"));
            self.pg
                .execute(
                    "INSERT INTO reference_versions
                       (kind, code, valid_from, recorded_at, body, store_id, district_id, owner_id)
                     VALUES ($1, $2, $3::text::date, '2026-05-01Z', $4::text::jsonb, $5, $6, $7)",
                    &[&kind, &code, &day(from), &body.to_string(), &stored, &district, &owner],
                )
                .await
                .expect("a document on record");
        }
    }
}
