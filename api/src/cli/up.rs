//! `parings up`: a private database, its schema, and the server, in one process.

use std::fs::{self, File, OpenOptions};
use std::io::{self, IsTerminal};
use std::os::unix::fs::OpenOptionsExt;
use std::path::{Path, PathBuf};

use anyhow::Context;
use clap::Args;
use parings::app::office::operator;
use parings::cluster::Keeper;
use parings::edge::Clock;
use parings::{boot, demo, telemetry};

use super::machine::{self, Machine, default_data, load_demo};
use super::migrate::{self, migrate};
use super::progress::Progress;
use super::serve::{Listening, config, runtime, stop_signal, until_stopped};
use super::welcome::{self, Welcome};

/// Everything on this machine: a private database, its schema, and the server.
#[derive(Debug, Args)]
pub struct Up {
    /// Where the data lives [default: ./.parings, or /var/lib/parings when the database's account
    /// cannot reach that]
    #[arg(long, value_name = "DIR", env = "PARINGS_DATA")]
    data: Option<PathBuf>,
    /// Leaves an empty network empty: no demo
    #[arg(long)]
    empty: bool,
    #[command(flatten)]
    listening: Listening,
}

impl Up {
    /// Takes the port and starts the cluster, then gives up root, then makes the runtime.
    pub fn run(self) -> anyhow::Result<()> {
        let data = self.data.map_or_else(default_data, Ok)?;
        let listening = self.listening;
        let listener = listening.listen()?;
        let after = ["demo", "weeks", "serve"];
        let mut progress = Progress::new([&machine::STEPS[..], &migrate::STEPS, &after].concat());
        let Machine { cluster, data, owner_url, read_url, app_url } =
            Machine::start(data, &mut progress)?;
        let log = start_log(&data)?;
        let keeper = Keeper::of(cluster);
        let config = config(app_url, &data, &listening);
        let served = runtime()?.block_on(async {
            migrate(&owner_url, &Clock::Machine, &mut progress).await?;
            let deps = boot::deps(config, Clock::Machine)?;
            if !self.empty {
                let size = demo::Size::default();
                load_demo(&deps, &owner_url, &data, size, &mut progress).await?;
            }
            progress.begin("serve");
            let built = boot::build_on(deps, listener)?;
            progress.finish();
            let welcome = Welcome {
                site: listening.site(built.port),
                data: &data,
                log: log.as_deref(),
                somebody: operator::is_anybody_there(&owner_url).await?,
                last_night: operator::last_night(&read_url).await?,
            };
            let asked = stop_signal();
            welcome::say(&welcome.text()?);
            let stop = async {
                asked.await;
                welcome::say("stopping");
            };
            until_stopped(built, Some(owner_url), stop).await
        });
        keeper.stop()?;
        served
    }
}

/// Starts logging: to a file when a person reads standard error, whose name comes back then. The
/// file of the start before is kept beside it.
fn start_log(data: &Path) -> anyhow::Result<Option<PathBuf>> {
    if !io::stderr().is_terminal() {
        telemetry::start();
        return Ok(None);
    }
    let log = data.join("server.log");
    let file = new_log(&log).with_context(|| format!("cannot write {}", log.display()))?;
    telemetry::start_in(file);
    Ok(Some(log))
}

fn new_log(log: &Path) -> io::Result<File> {
    if log.exists() {
        fs::rename(log, log.with_extension("log.1"))?;
    }
    OpenOptions::new().write(true).create_new(true).mode(0o600).open(log)
}
