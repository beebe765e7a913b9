//! `parings verify`: works every tally out again from its facts and compares it with what is stored.

use std::path::PathBuf;

use anyhow::ensure;
use clap::Args;
use parings::app::night::verify;
use parings::cluster::{self, roles};

use super::machine::default_data;
use super::progress::Progress;
use super::serve::runtime;

/// Works every tally out again from its facts and compares it with what is stored.
#[derive(Debug, Args)]
pub struct Verify {
    /// Where the data of a running `parings up` live [default: where `parings up` puts them]
    #[arg(long, value_name = "DIR", env = "PARINGS_DATA")]
    data: Option<PathBuf>,
    /// Works on another database, as the role that may only read
    #[arg(long, value_name = "URL", env = "READ_DATABASE_URL", hide_env_values = true)]
    read_database_url: Option<String>,
}

impl Verify {
    /// Compares, prints what differs, and fails when anything does.
    pub fn run(self) -> anyhow::Result<()> {
        if let Some(url) = self.read_database_url {
            return compare(&url);
        }
        let data = self.data.map_or_else(default_data, Ok)?;
        compare(&cluster::url_of_running(&data, roles::READ, roles::DATABASE)?)
    }
}

fn compare(url: &str) -> anyhow::Result<()> {
    let mut progress = Progress::new(vec!["compare"]);
    progress.begin("compare");
    let report = runtime()?.block_on(verify::run(url, |step| {
        let verify::Step { store, done, of, differences } = step;
        progress.say(&format!("  {done} of {of} stores, {differences} differences: {store}"));
    }))?;
    progress.finish();
    for difference in &report.differences {
        println!("{difference}");
    }
    let verify::Report { stores, nights, rows, weeks, older, differences } = &report;
    if *older > 0 {
        println!("{older} nights of older rules wait to be tallied anew, and were not compared");
    }
    let differ = differences.len();
    println!("{stores} stores, {nights} nights, {rows} rows, {weeks} weeks: {differ} differences");
    ensure!(differences.is_empty(), "stored tallies are not what the facts add up to");
    Ok(())
}
