//! A private cluster that loses nothing at a crash, and the server's release binary on it.

use std::fs::{self, File};
use std::io::{BufRead, BufReader};
use std::net::SocketAddr;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

use anyhow::{Context, ensure};
use nix::sys::signal::{Signal, kill};
use nix::unistd::Pid;
use parings::app::signin::keys::Keys;
use parings::app::signin::tokens::{self, Shown};
use parings::cluster::roles::{self, APP, DATABASE, OWNER};
use parings::cluster::{Cluster, SUPERUSER, Settings};
use parings::db::migrate;
use parings::edge::{Clock, new_id};
use parings::starting;
use parings_core::ids::PersonId;

use super::bounds;

/// Months of partitions before today: those that facts are taken for.
const MONTHS_BACK: u32 = 14;
/// What the server says when it answers.
const ANSWERS: &str = "Parings answers at http://";

/// A server under load with its cluster; both end, and their folder goes, with the value.
pub struct Stage {
    /// Where the server answers.
    pub address: SocketAddr,
    /// How long the cluster, its schema and the server took until it answered.
    pub first_start: Duration,
    /// What sessions are signed with.
    pub keys: Keys,
    server: Child,
    cluster: Option<Cluster>,
    folder: PathBuf,
}

impl Stage {
    /// Makes a cluster in a new folder of `home` and starts `program`, which is the server's.
    ///
    /// # Errors
    /// When one of them does not start.
    pub fn open(home: &Path, program: &Path) -> anyhow::Result<Self> {
        ensure!(
            program.exists(),
            "{} is missing: cargo build --release -p parings",
            program.display()
        );
        let folder = home.join(format!("parings-measure-{}", std::process::id()));
        let begun = Instant::now();
        let cluster = Cluster::start(&Settings::new(&folder))?;
        roles::ensure_roles(&cluster.url(SUPERUSER, "postgres"))?;
        let owner = cluster.url(OWNER, DATABASE);
        let now = Clock::Machine.now();
        tokio::runtime::Runtime::new()?.block_on(async {
            migrate::run(&owner).await?;
            migrate::make_partitions(&owner, now.date_naive(), MONTHS_BACK).await?;
            starting::put(&owner).await
        })?;
        let (server, address) = serve(program, &cluster.url(APP, DATABASE), &folder)?;
        let first_start = begun.elapsed();
        let keys = Keys::load(&folder.join("keys"), now)?;
        Ok(Self { address, first_start, keys, server, cluster: Some(cluster), folder })
    }

    /// A connection URL of a role.
    pub fn url(&self, role: &str) -> String {
        self.cluster().url(role, DATABASE)
    }

    /// The cluster.
    pub fn cluster(&self) -> &Cluster {
        self.cluster.as_ref().expect("kept until the end")
    }

    /// Where the server and its keys live.
    pub fn folder(&self) -> &Path {
        &self.folder
    }

    /// The number of the server's process.
    pub fn server(&self) -> u32 {
        self.server.id()
    }

    /// The number of the database's first process.
    ///
    /// # Errors
    /// When it is not to be read.
    pub fn postmaster(&self) -> anyhow::Result<u32> {
        let file = fs::read_to_string(self.folder.join("postgres/postmaster.pid"))?;
        Ok(file.lines().next().context("an empty file")?.trim().parse()?)
    }

    /// What a person shows to be let in, as if they had just signed in.
    ///
    /// # Errors
    /// When the key does not sign.
    pub fn token(&self, person: PersonId) -> anyhow::Result<String> {
        let shown = Shown { person, session: new_id() };
        let life = chrono::TimeDelta::hours(6);
        tokens::access(&self.keys, shown, new_id(), Clock::Machine.now(), life)
    }
}

/// Starts the server on a free port of the loopback address, and waits until it answers.
fn serve(program: &Path, url: &str, folder: &Path) -> anyhow::Result<(Child, SocketAddr)> {
    let mut server = Command::new(program)
        .args(["serve", "--port", "0", "--data"])
        .arg(folder)
        .env("DATABASE_URL", url)
        .stdout(Stdio::piped())
        .stderr(File::create(folder.join("server.log"))?)
        .spawn()?;
    let said = BufReader::new(server.stdout.take().context("the server's output")?);
    for line in said.lines() {
        if let Some(at) = line?.strip_prefix(ANSWERS) {
            return Ok((server, bounds::loopback(at.parse()?)?));
        }
    }
    anyhow::bail!("the server does not start; see {}", folder.join("server.log").display())
}

impl Drop for Stage {
    fn drop(&mut self) {
        let server = Pid::from_raw(self.server.id().cast_signed());
        let ended = kill(server, Signal::SIGTERM).is_ok() && self.server.wait().is_ok();
        let stopped = self.cluster.take().is_none_or(|cluster| cluster.stop().is_ok());
        if !(ended && stopped && fs::remove_dir_all(&self.folder).is_ok()) {
            eprintln!("{} is left behind", self.folder.display());
        }
    }
}
