//! `parings verify`: works every tally out again from its facts and compares it with what is stored.

use std::path::PathBuf;

use anyhow::ensure;
use clap::Args;
use parings::app::verify;
use parings::cluster::{Cluster, Settings, roles};

use super::progress::Progress;
use super::serve::runtime;

/// Works every tally out again from its facts and compares it with what is stored.
#[derive(Debug, Args)]
#[group(required = true, multiple = true)]
pub struct Verify {
    /// Connects as the role that may only read
    #[arg(long, value_name = "URL", env = "READ_DATABASE_URL", hide_env_values = true)]
    read_database_url: Option<String>,
    /// Where the data of a private database lives that `parings up` made, instead; it must not be
    /// running
    #[arg(long, value_name = "DIR")]
    data: Option<PathBuf>,
}

impl Verify {
    /// Compares, prints what differs, and fails when anything does.
    pub fn run(self) -> anyhow::Result<()> {
        let Some(data) = self.data else {
            return compare(&self.read_database_url.unwrap_or_default());
        };
        ensure!(data.is_dir(), "there is no folder {}", data.display());
        let cluster = Cluster::start_reporting(&Settings::new(data), |_| ())?;
        let compared = compare(&cluster.url(roles::READ, roles::DATABASE));
        cluster.stop()?;
        compared
    }
}

fn compare(url: &str) -> anyhow::Result<()> {
    let mut progress = Progress::new(&["compare"]);
    progress.begin("compare");
    let report = runtime()?.block_on(verify::run(url, |step| {
        let verify::Step { store, done, of, differences } = step;
        progress.say(&format!("  {done} of {of} stores, {differences} differences: {store}"));
    }))?;
    progress.finish();
    for difference in &report.differences {
        println!("{difference}");
    }
    let verify::Report { stores, nights, rows, differences } = &report;
    println!("{stores} stores, {nights} nights, {rows} rows: {} differences", differences.len());
    ensure!(differences.is_empty(), "stored tallies are not what the facts add up to");
    Ok(())
}
