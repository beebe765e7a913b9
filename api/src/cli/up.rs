//! `parings up`: a private database, its schema, and the server, in one process.

use std::fs::{self, File, OpenOptions};
use std::io::{self, IsTerminal};
use std::os::unix::fs::OpenOptionsExt;
use std::path::{Path, PathBuf};
use std::time::Duration;

use anyhow::Context;
use clap::Args;
use nix::unistd::{AccessFlags, access, geteuid};
use parings::app::{Deps, operator};
use parings::cluster::{Account, Cluster, SUPERUSER, Settings, Step, account, roles};
use parings::edge::Clock;
use parings::{boot, demo, telemetry};

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
        let before = ["find programs", "create cluster", "start cluster", "roles"];
        let after = ["demo", "serve"];
        let mut progress = Progress::new([&before[..], &migrate::STEPS, &after].concat());
        progress.say(&format!("data in {}", std::path::absolute(&data)?.display()));

        let mut cluster = Cluster::start_reporting(&Settings::new(data), |step| {
            progress.begin(match step {
                Step::FindPrograms => "find programs",
                Step::CreateCluster => "create cluster",
                Step::StopOrphan => "stop orphan",
                Step::StartServer => "start cluster",
            });
        })?;
        progress.begin("roles");
        roles::ensure_roles(&cluster.url(SUPERUSER, "postgres"))?;
        account::drop_to(cluster.account())?;

        let data = cluster.data().to_owned();
        let log = start_log(&data)?;
        let owner_url = cluster.url(roles::OWNER, roles::DATABASE);
        let read_url = cluster.url(roles::READ, roles::DATABASE);
        let config = config(cluster.url(roles::APP, roles::DATABASE), &data, &listening);
        let served = runtime()?.block_on(async {
            migrate(&owner_url, &Clock::Machine, &mut progress).await?;
            let deps = boot::deps(config, Clock::Machine)?;
            if !self.empty {
                load_demo(&deps, &owner_url, &data, &mut progress).await?;
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
                tokio::select! {
                    () = asked => {}
                    () = ended(&mut cluster) => {}
                }
                welcome::say("stopping");
            };
            until_stopped(built, Some(owner_url), stop).await
        });
        let database_lived = cluster.is_running();
        let database_log = cluster.log();
        cluster.stop()?;
        anyhow::ensure!(
            database_lived,
            "PostgreSQL ended by itself; see {}",
            database_log.display()
        );
        served
    }
}

/// Loads the demo into a network without stores. A note lies in the folder while it is at it, so
/// that a load that was broken off is not taken for a whole one.
async fn load_demo(
    deps: &Deps,
    owner_url: &str,
    data: &Path,
    progress: &mut Progress,
) -> anyhow::Result<()> {
    let note = data.join("demo-unfinished");
    anyhow::ensure!(
        !note.exists(),
        "the demo was broken off while it was loaded; stop the server, remove {} and start again",
        data.display()
    );
    progress.begin("demo");
    fs::write(&note, "the demo is being loaded\n")?;
    let now = Clock::Machine.now();
    demo::load(deps, owner_url, data, now, |done, of| progress.part(done, of)).await?;
    fs::remove_file(&note)?;
    Ok(())
}

/// Comes back when the database has ended without being asked to.
async fn ended(cluster: &mut Cluster) {
    while cluster.is_running() {
        tokio::time::sleep(Duration::from_millis(500)).await;
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

/// `./.parings` if the database's account can get there, else `/var/lib/parings`.
pub fn default_data() -> anyhow::Result<PathBuf> {
    let here = std::env::current_dir()?;
    let local = here.join(".parings");
    let account = Account::for_data(&local)?;
    let may_make =
        local.exists() || geteuid().is_root() || access(&here, AccessFlags::W_OK).is_ok();
    if may_make && account.can_reach(&local) {
        return Ok(local);
    }
    Ok(PathBuf::from("/var/lib/parings"))
}
