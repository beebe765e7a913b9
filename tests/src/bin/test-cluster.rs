//! The setup script of the tests: starts a private PostgreSQL cluster for this run of nextest and
//! makes the migrated database that each test's own is copied from.
//!
//! The cluster is kept by a second process of this program, which outlives the script and ends,
//! with everything it made, when nextest does.

use std::fs::{self, File, OpenOptions};
use std::io::{BufRead, BufReader, Write};
use std::os::unix::process::{CommandExt, parent_id};
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::time::Duration;

use anyhow::{Context, bail};
use nix::sys::signal::kill;
use nix::sys::statvfs::statvfs;
use nix::unistd::{Pid, geteuid};
use parings::cluster::roles::{self, DATABASE, OWNER};
use parings::cluster::{Account, Cluster, SUPERUSER, Settings};
use parings::db::migrate;
use parings_tests::database::{HOST_VARIABLE, connect, url_at};
use parings_tests::house::first_moment;

/// Memory is used as a disk only where there is plenty; containers often have 64 MiB of it.
const PLENTY: u64 = 2 << 30;
/// How often the keeper looks whether nextest is still there.
const PAUSE: Duration = Duration::from_millis(500);
/// Months of partitions before the tests' first moment: enough for quarters and baselines, few
/// enough to copy fast.
const MONTHS_BACK: u32 = 3;
/// How the keeper's one line begins when the cluster runs.
const READY: &str = "ready ";

fn main() -> anyhow::Result<()> {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    match arguments.iter().map(String::as_str).collect::<Vec<_>>().as_slice() {
        [] => set_up(),
        ["keep", run] => {
            let kept = keep_while(Pid::from_raw(run.parse()?));
            if let Err(error) = &kept {
                println!("{error:#}");
            }
            kept
        }
        _ => bail!("cargo nextest starts this, without arguments"),
    }
}

fn set_up() -> anyhow::Result<()> {
    let host = start_keeper()?;
    roles::ensure_roles(&url_at(&host, SUPERUSER, "postgres"))?;
    tokio::runtime::Runtime::new()?.block_on(make_template(&host))?;
    let variables = std::env::var("NEXTEST_ENV").context("only nextest starts this")?;
    let mut variables = OpenOptions::new().append(true).open(variables)?;
    Ok(writeln!(variables, "{HOST_VARIABLE}={host}")?)
}

/// Migrates the template and closes it: a database that somebody is connected to cannot be copied.
async fn make_template(host: &str) -> anyhow::Result<()> {
    let owner = url_at(host, OWNER, DATABASE);
    migrate::run(&owner).await?;
    migrate::make_partitions(&owner, first_moment().date_naive(), MONTHS_BACK).await?;
    let admin = connect(&url_at(host, SUPERUSER, "postgres")).await;
    let close = format!("ALTER DATABASE {DATABASE} IS_TEMPLATE true ALLOW_CONNECTIONS false");
    Ok(admin.batch_execute(&close).await?)
}

/// Starts the keeper, apart from this script's group and streams so that nextest does not wait
/// for it, and answers with the host part of the cluster's URLs.
fn start_keeper() -> anyhow::Result<String> {
    let mut keeper = Command::new(std::env::current_exe()?)
        .args(["keep", &parent_id().to_string()])
        .current_dir("/")
        .stdin(Stdio::null())
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .process_group(0)
        .spawn()?;
    let mut said = String::new();
    let told = keeper.stdout.take().context("the keeper's output")?;
    BufReader::new(told).read_line(&mut said)?;
    match said.trim().strip_prefix(READY) {
        Some(host) => Ok(host.to_owned()),
        None => bail!("the cluster does not start: {}", said.trim()),
    }
}

/// Keeps a cluster for as long as the process `run` is there, and removes it then.
fn keep_while(run: Pid) -> anyhow::Result<()> {
    let home = home()?;
    sweep(&home)?;
    let data = home.join(format!("{}{run}", prefix()));
    let extra = [("max_connections", "400"), ("autovacuum", "off"), ("shared_buffers", "64MB")];
    let extra = extra.map(|(name, value)| (name.to_owned(), value.to_owned())).to_vec();
    let cluster = Cluster::start(&Settings { data: data.clone(), fsync: false, extra })?;
    let url = cluster.url("", "");
    let host = url.trim_start_matches("postgresql://@").trim_end_matches('/');
    println!("{READY}{host}");
    while kill(run, None).is_ok() {
        std::thread::sleep(PAUSE);
    }
    cluster.stop()?;
    Ok(fs::remove_dir_all(data)?)
}

/// Where clusters of test runs lie: in memory where there is plenty, else with temporary files;
/// wherever the cluster's account can get to.
fn home() -> anyhow::Result<PathBuf> {
    let memory = Path::new("/dev/shm");
    let plenty =
        statvfs(memory).is_ok_and(|disk| disk.blocks_available() * disk.fragment_size() >= PLENTY);
    let choices =
        [plenty.then(|| memory.to_owned()), Some(std::env::temp_dir()), Some("/tmp".into())];
    let account = Account::for_data(memory)?;
    let reached = choices.into_iter().flatten().find(|home| account.can_reach(&home.join("data")));
    reached.context("no folder for temporary files that the database's account can enter")
}

fn prefix() -> String {
    format!("parings-tests-{}-", geteuid())
}

/// Removes what runs have left that were ended without ceremony: their lock is nobody's.
fn sweep(home: &Path) -> anyhow::Result<()> {
    for found in fs::read_dir(home)?.flatten() {
        let ours = found.file_name().to_string_lossy().starts_with(&prefix());
        let lock = ours.then(|| File::open(found.path().join("lock")));
        if lock.is_some_and(|lock| lock.is_ok_and(|lock| lock.try_lock().is_ok())) {
            fs::remove_dir_all(found.path())?;
        }
    }
    Ok(())
}
