//! How fast a history is brought in from a file, beside the same rows copied as they are.

use std::fs;
use std::io::Cursor;
use std::path::Path;
use std::pin::pin;
use std::process::Command;
use std::time::{Duration, Instant};

use anyhow::ensure;
use futures::SinkExt;
use parings::cluster::SUPERUSER;
use parings::cluster::roles::{APP, OWNER};
use serde_json::Value;

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
}

impl Imported {
    /// How many times as many rows a second are copied as brought in.
    pub fn ratio(&self) -> f64 {
        self.copied.as_secs_f64() / self.took.as_secs_f64()
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
    let begun = Instant::now();
    let mut copy = pin!(admin.copy_in("COPY bare_rows FROM STDIN (FORMAT csv, HEADER)").await?);
    for part in text.as_bytes().chunks(1 << 16) {
        copy.send(Cursor::new(part.to_vec())).await?;
    }
    let rows = copy.finish().await?;
    let copied = begun.elapsed();
    admin.batch_execute("DROP TABLE bare_rows").await?;
    let nights = stores.len() * usize::try_from(NIGHTS)?;
    Ok(Imported { nights, rows: usize::try_from(rows)?, took, copied })
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
