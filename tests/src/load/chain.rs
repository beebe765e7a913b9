//! An invented chain: as many stores as are wanted, forty items counted every night, eight products.

use chrono::{Datelike, TimeDelta};
use parings::cluster::SUPERUSER;
use parings::edge::{Clock, new_id};
use parings_core::calendar::BusinessDate;
use parings_core::ids::PersonId;
use serde_json::{Value, json};
use uuid::Uuid;

use super::stage::{Stage, token};
use crate::database::connect;
use crate::network::CREATE;

/// Lines of a night.
pub const ITEMS: usize = 40;
/// Products that they go into, five to each.
const PRODUCTS: usize = 8;
/// Stores of a district.
const DISTRICT: usize = 8;
/// Everything is in force from here on.
const SINCE: &str = "2024-01-01";
/// Portions of a product on a night.
const SOLD: u32 = 100;
/// Base units of an item in a portion.
const PORTION: u32 = 50;
/// What stands there at first, in kilograms: more than is used in all nights.
const AT_FIRST: f64 = 4_000.0;

/// A store and its manager.
#[derive(Debug, Clone)]
pub struct Store {
    /// Its code.
    pub code: String,
    /// Its manager.
    pub manager: Uuid,
    /// The session that the manager is signed in with.
    pub session: Uuid,
    /// What the manager shows.
    pub token: String,
    /// The night to be sent next.
    pub next: BusinessDate,
    /// What it sends is of so many nights earlier.
    pub earlier: i64,
}

impl Store {
    /// The code of its district.
    pub fn district(&self) -> String {
        let number: usize = self.code[1..].parse().unwrap_or_default();
        district(number)
    }
}

fn district(store: usize) -> String {
    format!("d{:04}", store / DISTRICT)
}

/// The code of a store.
pub fn code(number: usize) -> String {
    format!("s{number:05}")
}

/// The statement that knows the manager of a store `$1`, for who cannot ask this program.
pub const MANAGER_OF: &str = "md5('manager of ' || $1)::uuid";

/// The same of the session that the manager is signed in with.
pub const SESSION_OF: &str = "md5('session of ' || $1)::uuid";

/// Nights that a store sends at most: none of them is locked yet.
const SENDS: i64 = 40;

/// The first night that a store sends. Those before it are copied.
pub fn first() -> BusinessDate {
    BusinessDate::from((Clock::Machine.now() - TimeDelta::days(SENDS)).date_naive())
}

/// Whether a night has ended everywhere.
pub fn is_over(date: BusinessDate) -> bool {
    date < first().plus_days(SENDS)
}

/// Puts a chain on record, over HTTP, and its managers.
///
/// # Errors
/// When the server refuses something.
pub async fn open(stage: &Stage, stores: usize) -> anyhow::Result<Vec<Store>> {
    let admin = connect(&stage.url(SUPERUSER)).await;
    let office = person(&admin, new_id(), "office", &[]).await?;
    let office = token(&stage.keys, &admin, PersonId(office), new_id()).await?;
    for (kind, code, document) in documents(stores) {
        put(stage, &office, kind, &code, document).await?;
    }
    widen(stage, &office).await?;
    let mut all = Vec::new();
    for number in 0..stores {
        let code = code(number);
        let ids = admin.query_one(&format!("SELECT {MANAGER_OF}, {SESSION_OF}"), &[&code]).await?;
        let (id, session) = (ids.get(0), ids.get(1));
        let manager = person(&admin, id, "manager", &[&code]).await?;
        let token = token(&stage.keys, &admin, PersonId(manager), session).await?;
        all.push(Store { code, manager, session, token, next: first(), earlier: 0 });
    }
    Ok(all)
}

async fn person(
    admin: &tokio_postgres::Client,
    id: Uuid,
    role: &str,
    places: &[&str],
) -> anyhow::Result<Uuid> {
    let (email, now) = (format!("{id}@example.com"), Clock::Machine.now());
    admin
        .execute(
            "INSERT INTO people (id, kind, name, email, role, places, created_at, changed_at)
             VALUES ($1, 'person', 'Somebody', $2, $3, $4, $5, $5)",
            &[&id, &email, &role, &places, &now],
        )
        .await?;
    Ok(id)
}

fn documents(stores: usize) -> Vec<(&'static str, String, Value)> {
    let titled = |title: &str| json!({ "title": title });
    let mut all = vec![
        ("regions", "valley".to_owned(), titled("Valley")),
        ("owners", "brook".to_owned(), titled("Brook")),
    ];
    for district in 0..stores.div_ceil(DISTRICT) {
        let document = json!({ "title": format!("District {district}"), "region": "valley" });
        all.push(("districts", format!("d{district:04}"), document));
    }
    for number in 0..stores {
        let document = json!({
            "title": format!("Store {number}"), "district": district(number),
            "owner": "brook", "format": "counter", "zone": "UTC",
            "open": ["mon", "tue", "wed", "thu", "fri", "sat", "sun"],
        });
        all.push(("stores", code(number), document));
    }
    for item in 0..ITEMS {
        let document = json!({
            "title": format!("Item {item}"), "group": "food", "base": "mass",
            "rhythm": { "every": "night" }, "shelves": [{ "place": "dry-store", "unit": "kg" }],
        });
        all.push(("items", format!("i{item:02}"), document));
        let per = json!({ "value": "1", "unit": "kg" });
        all.push(("prices", format!("i{item:02}"), json!({ "price": "3.20", "per": per })));
    }
    for product in 0..PRODUCTS {
        let line = |item: usize| {
            let quantity = json!({ "value": PORTION.to_string(), "unit": "g" });
            json!({ "item": format!("i{item:02}"), "quantity": quantity })
        };
        let lines: Vec<_> = (product..ITEMS).step_by(PRODUCTS).map(line).collect();
        let size = json!({ "code": "one", "title": "One size", "lines": lines });
        let document = json!({ "title": format!("Product {product}"), "sizes": [size] });
        all.push(("products", format!("p{product}"), document));
    }
    all
}

async fn put(
    stage: &Stage,
    token: &str,
    kind: &str,
    code: &str,
    document: Value,
) -> anyhow::Result<()> {
    let body = json!({
        "submission_id": new_id(), "valid_from": SINCE, "document": document,
        "reason": "For the load",
    });
    let path = format!("/v1/reference/{kind}/{code}");
    let known = kind == "settings";
    let condition = if known { ("If-Match", "*") } else { CREATE };
    let url = format!("http://{}{path}", stage.address());
    let client = reqwest::Client::new();
    let request = client.put(url).bearer_auth(token).header(condition.0, condition.1).json(&body);
    let answer = request.send().await?;
    let status = answer.status();
    anyhow::ensure!(status.is_success(), "{kind}/{code}: {status} {}", answer.text().await?);
    Ok(())
}

/// Weeks of nights are sent in minutes: how late they are is not asked about.
async fn widen(stage: &Stage, token: &str) -> anyhow::Result<()> {
    let url = format!("http://{}/v1/reference/settings/network", stage.address());
    let known: Value =
        reqwest::Client::new().get(url).bearer_auth(token).send().await?.json().await?;
    let mut settings = known["document"].clone();
    for (limit, value) in [("lock_hours", 1_000), ("old_days", 1_000), ("date_hours", 1_000)] {
        settings["limits"][limit] = json!(value);
    }
    put(stage, token, "settings", "network", settings).await
}

/// The count of a store's next night: forty lines, falling by what is used, and what was sold.
pub fn night(store: &Store) -> Value {
    let date = store.next.plus_days(-store.earlier);
    let nights = first().days_until(date);
    let used = f64::from(SOLD * PORTION) / 1000.0;
    let day = i64::from(chrono::NaiveDate::from(date).num_days_from_ce());
    let line = |item: usize| {
        // A little more or less than it should be, another little each night.
        let wobble =
            f64::from(u8::try_from((day * 37 + item as i64 * 61) % 101).unwrap_or(0)) / 1000.0;
        let there = AT_FIRST - used * nights as f64 - wobble - item as f64;
        json!({ "item": format!("i{item:02}"), "place": "dry-store",
            "quantity": { "value": format!("{there:.3}"), "unit": "kg" } })
    };
    let sold =
        |product: usize| json!({ "product": format!("p{product}"), "size": "one", "units": SOLD });
    json!({
        "submission_id": new_id(), "complete": true,
        "lines": (0..ITEMS).map(line).collect::<Vec<_>>(),
        "units_sold": (0..PRODUCTS).map(sold).collect::<Vec<_>>(),
        "net_sales": "2400.00",
    })
}

/// Gives every other store the nights that the first has sent, so much earlier that its own follow.
///
/// # Errors
/// When the database does not take them.
pub async fn copy_nights(stage: &Stage, stores: &[Store]) -> anyhow::Result<()> {
    let admin = connect(&stage.url(SUPERUSER)).await;
    let Some((sender, others)) = stores.split_first() else { return Ok(()) };
    let earlier = i32::try_from(first().days_until(sender.next))?;
    for table in ["night_revisions", "night_pins", "nights"] {
        let opened = if table == "nights" { ", 'reaches', t.reaches - $4::int" } else { "" };
        let sql = format!(
            "INSERT INTO {table} SELECT (jsonb_populate_record(t, jsonb_build_object(
               'store_id', s.store, 'district_id', s.district,
               'business_date', t.business_date - $4::int{opened}))).*
             FROM {table} t, unnest($2::text[], $3::text[]) AS s (store, district)
             WHERE t.store_id = $1"
        );
        let codes: Vec<&str> = others.iter().map(|store| store.code.as_str()).collect();
        let districts: Vec<String> = others.iter().map(Store::district).collect();
        admin.execute(&sql, &[&sender.code, &codes, &districts, &earlier]).await?;
    }
    admin.batch_execute("ANALYZE").await?;
    Ok(())
}
