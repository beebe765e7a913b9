//! `parings migrate`: brings a database up to this version.

use anyhow::Context;
use chrono::NaiveDate;
use clap::Args;
use parings::app::ground::partitions;
use parings::edge::Clock;
use parings::{db, starting};

use super::progress::Progress;
use super::serve::runtime;

/// The steps that [`migrate`] takes.
pub const STEPS: [&str; 4] = ["migrate", "pack nights", "partitions", "starting values"];

/// Brings a database up to this version: its schema, the partitions of coming months, and the
/// starting values of a new network. It can be repeated at any time.
#[derive(Debug, Args)]
pub struct Migrate {
    /// Connects as the role that owns the schema
    #[arg(long, value_name = "URL", env = "OWNER_DATABASE_URL", hide_env_values = true)]
    owner_database_url: String,
    /// Also makes the place for facts from the month of this date on, to bring a history in
    #[arg(long, value_name = "DATE")]
    since: Option<NaiveDate>,
}

impl Migrate {
    /// Migrates and ends.
    pub fn run(self) -> anyhow::Result<()> {
        let mut progress = Progress::new(STEPS.to_vec());
        let url = &self.owner_database_url;
        let ran = runtime()?
            .block_on(migrate(url, &Clock::Machine, &mut progress))
            .context("with the login of OWNER_DATABASE_URL")?;
        if let Some(since) = self.since {
            let now = Clock::Machine.now();
            runtime()?.block_on(partitions::make_since(url, since, now))?;
        }
        progress.finish();
        for name in &ran {
            println!("ran {name}");
        }
        println!("the database is at migration {}", db::migrate::newest());
        Ok(())
    }
}

/// Does it as the owner; answers with the names of the migrations that ran.
pub async fn migrate(
    owner_url: &str,
    clock: &Clock,
    progress: &mut Progress,
) -> anyhow::Result<Vec<String>> {
    let [schema, nights, months, values] = STEPS;
    progress.begin(schema);
    let ran = db::migrate::run(owner_url).await?;
    progress.begin(nights);
    db::unpacked::pack(owner_url, |done, of| progress.say(&format!("  {done} of {of} stores")))
        .await?;
    progress.begin(months);
    partitions::make(owner_url, clock.now()).await?;
    progress.begin(values);
    starting::put(owner_url).await?;
    Ok(ran)
}
