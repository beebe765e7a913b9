//! Scenes made from tallies: what a review looks at, put on record without the facts behind it.

use std::collections::BTreeSet;

use crate::network;
use serde_json::{Map, Value, json};
use tokio_postgres::Client;

/// A row in which every column that must be said says nothing, and what is said.
async fn nothing(pg: &Client, table: &str) -> Map<String, Value> {
    let sql = "SELECT column_name::text, data_type::text FROM information_schema.columns
        WHERE table_name = $1 AND is_nullable = 'NO'";
    let columns = pg.query(sql, &[&table]).await.expect("columns");
    let said = |kind: &str| match kind {
        "boolean" => json!(false),
        "jsonb" => json!([]),
        _ => json!(0),
    };
    columns.into_iter().map(|row| (row.get(0), said(row.get(1)))).collect()
}

/// Puts rows on record, each with what it says; of what it must say and does not, nothing.
pub async fn put(pg: &Client, table: &str, rows: Vec<Value>) {
    let nothing = nothing(pg, table).await;
    let whole = |said: Value| {
        let mut row = nothing.clone();
        row.extend(said.as_object().expect("an object").clone());
        Value::Object(row)
    };
    let rows = Value::Array(rows.into_iter().map(whole).collect());
    let sql = format!(
        "INSERT INTO {table} SELECT * FROM jsonb_populate_recordset(NULL::{table}, $1::text::jsonb)"
    );
    pg.execute(&sql, &[&rows.to_string()]).await.expect("tallies on record");
}

/// Puts a small network on record: stores by code, district and first date, all of one format, zone,
/// region and owner, open on every weekday.
pub async fn reference(pg: &Client, stores: &[(&str, &str, &str)]) {
    let titled = |title: &str| json!({ "title": title });
    let district = |title: &str| json!({ "title": title, "region": "valley" });
    let settings = json!({
        "title": "A chain", "currency": "EUR", "count_error": "0.02", "sample_nights": 28,
        "minimum_tickets": 30, "lump": { "tickets": 5, "within": 10 }, "doubtful_tickets": "0.05",
    });
    let mut all: Vec<(&str, &str, &str, Value)> = vec![
        ("settings", "network", "2026-01-01", settings),
        ("regions", "valley", "2026-01-01", titled("Valley")),
        ("owners", "brook", "2026-01-01", titled("Brook")),
        ("items", "potato", "2026-01-01", network::potato()),
    ];
    for code in stores.iter().map(|(_, district, _)| *district).collect::<BTreeSet<_>>() {
        all.push(("districts", code, "2026-01-01", district(code)));
    }
    for (store, district, from) in stores.iter().copied() {
        let week = ["mon", "tue", "wed", "thu", "fri", "sat", "sun"];
        let document = json!({ "title": store, "district": district, "owner": "brook",
            "format": "counter", "zone": "Europe/Berlin", "open": week });
        all.push(("stores", store, from, document));
    }
    for (kind, code, from, body) in all {
        let placed = |name: &str| body.get(name).and_then(Value::as_str).map(str::to_owned);
        let stored = (kind == "stores").then_some(code);
        let sql = "INSERT INTO reference_versions
               (kind, code, valid_from, recorded_at, body, store_id, district_id, owner_id)
             VALUES ($1, $2, $3::text::date, '2025-12-01Z', $4::text::jsonb, $5, $6, $7)";
        let (district, owner) = (placed("district"), placed("owner"));
        pg.execute(sql, &[&kind, &code, &from, &body.to_string(), &stored, &district, &owner])
            .await
            .expect("a document on record");
    }
}
