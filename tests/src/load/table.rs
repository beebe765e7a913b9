//! What was measured, as a table in Markdown.

use std::fmt::{self, Display, Formatter};
use std::time::Duration;

use super::drive::Driven;
use super::imports::Imported;
use super::replay::Replayed;
use super::rollups::{Rolled, Took};

/// Nights through HTTP should come to at least this share of what the database does alone.
const NIGHTS_AIM: f64 = 0.8;
/// A history comes in at least so fast, as a share of the rows that are copied as they are.
const IMPORT_AIM: f64 = 0.3;
/// A district's week should take no longer, 99 times in a hundred.
const WEEK_AIM: Duration = Duration::from_millis(10);
/// Nor so many times as long as in the smallest chain.
const GROWTH_AIM: f64 = 1.2;

/// Everything that one run measured.
#[derive(Debug, Default)]
pub struct Measured {
    /// How long the cluster, its schema and the server took until it answered for the first time.
    pub first_start: Duration,
    /// How many statements one night sends.
    pub statements: usize,
    /// Nights by so many clients, through HTTP and replayed.
    pub nights: Vec<(Driven, Replayed)>,
    /// A file of nights.
    pub imported: Option<Imported>,
    /// Roll-ups of chains.
    pub rolled: Vec<Rolled>,
}

fn aim(found: f64, least: f64) -> String {
    let met = if found >= least { "met" } else { "missed" };
    format!("≥ {least:.1}: {met}")
}

fn each(time: Duration, nights: usize) -> f64 {
    time.as_secs_f64() * 1000.0 / nights.max(1) as f64
}

impl Display for Measured {
    fn fmt(&self, f: &mut Formatter<'_>) -> fmt::Result {
        writeln!(f, "| measured | found | aim |\n|---|---|---|")?;
        for (http, bare) in &self.nights {
            let ratio = http.rate() / bare.rate;
            writeln!(
                f,
                "| nights a second through HTTP, {} clients | {:.0} (p50 {:.1} ms, p99 {:.1} ms) | |\n\
                 | the same {} statements by pgbench | {:.0}, ratio {ratio:.2} | {} |",
                http.clients,
                http.rate(),
                http.p50.as_secs_f64() * 1000.0,
                http.p99.as_secs_f64() * 1000.0,
                self.statements,
                bare.rate,
                aim(ratio, NIGHTS_AIM),
            )?;
            writeln!(
                f,
                "| processor time a night, through HTTP | server {:.2} ms, PostgreSQL {:.2} ms, \
                 clients {:.2} ms | |\n\
                 | by pgbench | PostgreSQL {:.2} ms, pgbench {:.2} ms | |",
                each(http.server, http.nights),
                each(http.database, http.nights),
                each(http.sender, http.nights),
                each(bare.database, bare.nights),
                each(bare.sender, bare.nights),
            )?;
        }
        if let Some((last, _)) = self.nights.last() {
            let mib = last.memory as f64 / f64::from(1 << 20);
            writeln!(f, "| most memory of the server under load | {mib:.0} MiB | |")?;
        }
        if let Some(file) = &self.imported {
            let each = |took: Duration| file.rows as f64 / took.as_secs_f64();
            writeln!(
                f,
                "| rows a second by `parings import`, a file of {} nights | {:.0} | |\n\
                 | the same {} rows by COPY into a bare table | {:.0}, ratio {:.2} | {} |\n\
                 | the {} rows that are kept of them, by COPY into bare tables | {:.0}, \
                 ratio {:.2} | |",
                file.nights,
                each(file.took),
                file.rows,
                each(file.copied),
                file.ratio(),
                aim(file.ratio(), IMPORT_AIM),
                file.written,
                file.written as f64 / file.written_copied.as_secs_f64(),
                file.written_ratio(),
            )?;
        }
        self.rollups(f)?;
        let start = self.first_start.as_secs_f64();
        writeln!(f, "| first start: cluster, schema, server | {start:.1} s | |")?;
        for (http, _) in self.nights.iter().filter(|(http, _)| !http.errors.is_empty()) {
            let (many, first) = (http.errors.len(), &http.errors[0]);
            writeln!(
                f,
                "\n{many} answers to {} clients were none, the first: {first}",
                http.clients
            )?;
        }
        Ok(())
    }
}

impl Measured {
    fn rollups(&self, f: &mut Formatter<'_>) -> fmt::Result {
        let milliseconds = |time: Duration| time.as_secs_f64() * 1000.0;
        let told = |took: &Result<Took, String>| match took {
            Ok((p50, p99)) => {
                format!("p50 {:.1} ms, p99 {:.1} ms", milliseconds(*p50), milliseconds(*p99))
            }
            Err(says) => format!("no answer: {}", says.chars().take(200).collect::<String>()),
        };
        let smallest = self.rolled.first().and_then(|rolled| Some(rolled.week.as_ref().ok()?.1));
        for rolled in &self.rolled {
            let Rolled { stores, weeks, loaded, week, by_store, quarter, by_district, list } =
                rolled;
            let p99 = week.as_ref().ok().map(|took| took.1);
            let aim = p99.zip(smallest).map_or_else(String::new, |(p99, smallest)| {
                let growth = p99.as_secs_f64() / smallest.as_secs_f64();
                let met = |is: bool| if is { "met" } else { "missed" };
                format!(
                    "p99 ≤ {} ms: {}; ≤ {GROWTH_AIM} × the smallest: {growth:.2}, {}",
                    WEEK_AIM.as_millis(),
                    met(p99 <= WEEK_AIM),
                    met(growth <= GROWTH_AIM),
                )
            });
            let loaded = loaded.as_secs_f64();
            writeln!(
                f,
                "| {stores} stores, {weeks} weeks, loaded in | {loaded:.0} s | |\n\
                 | a district's week | {} | {aim} |\n\
                 | the same with each store | {} | |\n\
                 | a quarter of the network | {} | |\n\
                 | the same by period with each district | {} | |\n\
                 | a coach's list | {} | |",
                told(week),
                told(by_store),
                told(quarter),
                told(by_district),
                told(list),
            )?;
        }
        Ok(())
    }
}
