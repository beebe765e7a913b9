//! How fast a history is brought in from a file, beside the same rows, and those that it
//! writes, copied as they are.

use std::fs;
use std::io::Cursor;
use std::path::Path;
use std::pin::pin;
use std::process::Command;
use std::time::{Duration, Instant};

use anyhow::ensure;
use futures::future::ready;
use futures::{SinkExt, TryStreamExt};
use parings::cluster::SUPERUSER;
use parings::cluster::roles::{APP, OWNER};
use serde_json::Value;
use tokio_postgres::Client;

use super::chain::{Store, first, night};
use super::stage::Stage;
use crate::database::connect;

/// Nights of each store in the file.
const NIGHTS: i64 = 60;
/// The columns that the file uses.
const COLUMNS: [&str; 12] = [
    "store",
    "business_date",
    "row",
    "complete",
    "net_sales",
    "item",
    "place",
    "quantity",
    "unit",
    "product",
    "size",
    "units",
];

/// A file brought in, and copied.
#[derive(Debug, Clone, Copy)]
pub struct Imported {
    /// Its nights.
    pub nights: usize,
    /// Its rows.
    pub rows: usize,
    /// How long `parings import` took.
    pub took: Duration,
    /// How long `COPY` took into a bare table of the same columns.
    pub copied: Duration,
    /// The rows of facts and tallies that came of it.
    pub written: u64,
    /// How long `COPY` took for those, into bare tables.
    pub written_copied: Duration,
}

/// What nights are kept in.
const TABLES: [&str; 3] = ["night_revisions", "night_pins", "nights"];

impl Imported {
    /// How many times as many rows a second are copied as brought in.
    pub fn ratio(&self) -> f64 {
        self.copied.as_secs_f64() / self.took.as_secs_f64()
    }

    /// The same of the rows that it writes.
    pub fn written_ratio(&self) -> f64 {
        self.written_copied.as_secs_f64() / self.took.as_secs_f64()
    }
}

/// Writes a file of nights that lie before all others of some stores, brings it in, and copies it.
///
/// # Errors
/// When the program or the database refuses it.
pub async fn measure(
    stage: &Stage,
    program: &Path,
    stores: &[Store],
    earlier: i64,
) -> anyhow::Result<Imported> {
    let text = file(stores, earlier);
    let path = stage.folder().join("nights.csv");
    fs::write(&path, &text)?;
    let admin = connect(&stage.url(SUPERUSER)).await;
    let office = "SELECT email FROM people WHERE role = 'office' LIMIT 1";
    let office: String = admin.query_one(office, &[]).await?.get(0);

    let begun = Instant::now();
    let ended = Command::new(program)
        .args(["import", "--as", &office])
        .arg(&path)
        .env("DATABASE_URL", stage.url(APP))
        .env("OWNER_DATABASE_URL", stage.url(OWNER))
        .output()?;
    let took = begun.elapsed();
    let said = |text: &[u8]| String::from_utf8_lossy(text).chars().take(2_000).collect::<String>();
    ensure!(ended.status.success(), "{}{}", said(&ended.stdout), said(&ended.stderr));

    let columns = COLUMNS.map(|column| match column {
        "business_date" => "business_date date".to_owned(),
        "quantity" | "net_sales" | "units" => format!("{column} numeric"),
        text => format!("\"{text}\" text"),
    });
    admin.batch_execute(&format!("CREATE TABLE bare_rows ({})", columns.join(", "))).await?;
    let into = "COPY bare_rows FROM STDIN (FORMAT csv, HEADER)";
    let (rows, copied) = copy(&admin, into, text.as_bytes()).await?;
    admin.batch_execute("DROP TABLE bare_rows").await?;
    let (written, written_copied) = copy_written(&admin, stores, earlier).await?;
    let nights = stores.len() * usize::try_from(NIGHTS)?;
    let rows = usize::try_from(rows)?;
    Ok(Imported { nights, rows, took, copied, written, written_copied })
}

/// How many rows go in, and how long that takes.
async fn copy(admin: &Client, into: &str, rows: &[u8]) -> anyhow::Result<(u64, Duration)> {
    let begun = Instant::now();
    let mut copy = pin!(admin.copy_in(into).await?);
    for part in rows.chunks(1 << 16) {
        copy.send(Cursor::new(part.to_vec())).await?;
    }
    Ok((copy.finish().await?, begun.elapsed()))
}

/// Takes out what the nights of the file are kept as, and copies it into tables without keys,
/// partitions or policies.
async fn copy_written(
    admin: &Client,
    stores: &[Store],
    earlier: i64,
) -> anyhow::Result<(u64, Duration)> {
    let stores: Vec<String> = stores.iter().map(|store| format!("'{}'", store.code)).collect();
    let (stores, before) = (stores.join(", "), first().plus_days(-earlier));
    let (mut written, mut took) = (0, Duration::ZERO);
    for table in TABLES {
        let picked = format!(
            "SELECT * FROM {table} WHERE store_id IN ({stores}) AND business_date < '{before}'"
        );
        let out = admin.copy_out(&format!("COPY ({picked}) TO STDOUT (FORMAT binary)")).await?;
        let rows = out.try_fold(Vec::new(), |mut all, part| {
            all.extend_from_slice(&part);
            ready(Ok(all))
        });
        let rows = rows.await?;
        admin.batch_execute(&format!("CREATE TABLE bare_rows (LIKE {table})")).await?;
        let into = "COPY bare_rows FROM STDIN (FORMAT binary)";
        let (some, lasted) = copy(admin, into, &rows).await?;
        admin.batch_execute("DROP TABLE bare_rows").await?;
        (written, took) = (written + some, took + lasted);
    }
    Ok((written, took))
}

/// The nights of stores, so many nights and more before the first that they send.
fn file(stores: &[Store], earlier: i64) -> String {
    let mut text = COLUMNS.join(",");
    let mut row = |cells: [&str; 12]| {
        text.push('\n');
        text.push_str(&cells.join(","));
    };
    for store in stores {
        for ago in (1..=NIGHTS).rev() {
            let of = Store { next: first(), earlier: earlier + ago, ..store.clone() };
            let date = of.next.plus_days(-of.earlier).to_string();
            let (sent, code) = (night(&of), of.code.as_str());
            let said = |value: &Value| value.as_str().unwrap_or_default().to_owned();
            let sales = said(&sent["net_sales"]);
            row([code, &date, "night", "yes", &sales, "", "", "", "", "", "", ""]);
            for line in sent["lines"].as_array().into_iter().flatten() {
                let amount = &line["quantity"];
                let [item, place] = ["item", "place"].map(|member| said(&line[member]));
                let [value, unit] = ["value", "unit"].map(|member| said(&amount[member]));
                row([code, &date, "count", "", "", &item, &place, &value, &unit, "", "", ""]);
            }
            for sold in sent["units_sold"].as_array().into_iter().flatten() {
                let [product, size] = ["product", "size"].map(|member| said(&sold[member]));
                let units = sold["units"].to_string();
                row([code, &date, "sold", "", "", "", "", "", "", &product, &size, &units]);
            }
        }
    }
    text
}
