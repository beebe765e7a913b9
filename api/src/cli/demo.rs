//! `parings demo`: the invented chain in a private database of its own, as large as somebody asks.

use std::path::PathBuf;

use clap::Args;
use parings::config::{Config, DatabaseConfig, HttpConfig, SigninConfig};
use parings::edge::Clock;
use parings::{boot, demo};

use super::machine::{self, Machine, load_demo};
use super::migrate::{self, migrate};
use super::progress::Progress;
use super::serve::runtime;
use super::welcome;

/// Loads the invented chain into an empty private database; `parings up` then serves it.
#[derive(Debug, Args)]
pub struct Demo {
    /// Stores; the first 24 are those of the usual demo
    #[arg(long, default_value_t = demo::places::STORES, value_parser = stores)]
    stores: usize,
    /// Weeks of facts that end yesterday
    #[arg(long, default_value_t = 12, value_parser = clap::value_parser!(u64).range(1..=58))]
    weeks: u64,
    /// What chance starts from: the same seed gives the same facts
    #[arg(long, default_value_t = 0)]
    seed: u64,
    /// Where the data live
    #[arg(long, value_name = "DIR", env = "PARINGS_DATA")]
    data: PathBuf,
}

fn stores(text: &str) -> Result<usize, String> {
    match text.parse() {
        Ok(stores @ 6..=20_000) => Ok(stores),
        _ => Err("6 to 20000 stores".to_owned()),
    }
}

impl Demo {
    /// Starts the database, loads, and stops it.
    pub fn run(self) -> anyhow::Result<()> {
        let steps = [&machine::STEPS[..], &migrate::STEPS, &["demo", "weeks"]].concat();
        let mut progress = Progress::new(steps);
        let machine = Machine::start(self.data, &mut progress)?;
        let size = demo::Size {
            stores: self.stores,
            weeks: usize::try_from(self.weeks)?,
            seed: self.seed,
        };
        let config = Config {
            database: DatabaseConfig::at(machine.app_url.clone()),
            http: HttpConfig::default(),
            signin: SigninConfig::with_keys(machine.data.join("keys")),
        };
        let loaded = runtime()?.block_on(async {
            migrate(&machine.owner_url, &Clock::Machine, &mut progress).await?;
            let deps = boot::deps(config, Clock::Machine)?;
            let (url, data) = (&machine.owner_url, &machine.data);
            load_demo(&deps, url, data, size, &mut progress).await
        });
        machine.cluster.stop()?;
        progress.finish();
        anyhow::ensure!(loaded?, "there are stores already: a demo begins with an empty database");
        let data = machine.data.display();
        welcome::say(&format!("loaded; serve it with: parings up --data {data}"));
        Ok(())
    }
}
