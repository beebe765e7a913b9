//! A private cluster that loses nothing at a crash, and the server's release binary on it.

use std::fs::{self, File};
use std::io::{BufRead, BufReader};
use std::net::SocketAddr;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

use anyhow::{Context, ensure};
use chrono::TimeDelta;
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
use tokio_postgres::Client;
use uuid::Uuid;

use super::bounds;
use crate::session;

/// Months of partitions before today: those that facts are taken for.
const MONTHS_BACK: u32 = 14;
/// What the server says when it answers.
const ANSWERS: &str = "Parings answers at http://";

/// A server under load with its cluster; both end, and their folder goes, with the value.
pub struct Stage {
    /// The server.
    pub served: Served,
    /// How long the cluster, its schema and the server took until it answered.
    pub first_start: Duration,
    /// What sessions are signed with.
    pub keys: Keys,
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
        let mut serve = Command::new(program);
        serve.args(["serve", "--port", "0", "--data"]).arg(&folder);
        serve.env("DATABASE_URL", cluster.url(APP, DATABASE));
        let served = Served::start(&mut serve, &folder)?;
        let first_start = begun.elapsed();
        let keys = Keys::load(&folder.join("keys"), now)?;
        Ok(Self { served, first_start, keys, cluster: Some(cluster), folder })
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

    /// Where the server answers.
    pub fn address(&self) -> SocketAddr {
        self.served.address
    }

    /// The number of the server's process.
    pub fn server(&self) -> u32 {
        self.served.process.id()
    }

    /// The number of the database's first process.
    ///
    /// # Errors
    /// When it is not to be read.
    pub fn postmaster(&self) -> anyhow::Result<u32> {
        let file = fs::read_to_string(self.folder.join("postgres/postmaster.pid"))?;
        Ok(file.lines().next().context("an empty file")?.trim().parse()?)
    }
}

/// What a person shows to a server with these keys, as if they had just signed in, to a session of that
/// id.
///
/// # Errors
/// When the key does not sign, or the session cannot be put on record.
pub async fn token(
    keys: &Keys,
    pg: &Client,
    person: PersonId,
    session: Uuid,
) -> anyhow::Result<String> {
    let now = Clock::Machine.now();
    session::begin(pg, session, person, now).await?;
    let shown = Shown { person, session };
    tokens::access(keys, shown, new_id(), now, TimeDelta::hours(6))
}

/// A server that answers; it is told to stop, and waited for, when the value goes.
pub struct Served {
    /// Where it answers.
    pub address: SocketAddr,
    process: Child,
}

impl Served {
    /// Starts a server by a command, logging into a folder, and waits until it answers on the loopback
    /// address.
    ///
    /// # Errors
    /// When it does not, or answers elsewhere.
    pub fn start(command: &mut Command, folder: &Path) -> anyhow::Result<Self> {
        let log = folder.join("measured.log");
        let process = command.stdout(Stdio::piped()).stderr(File::create(&log)?).spawn()?;
        let mut served = Self { address: SocketAddr::from(([127, 0, 0, 1], 0)), process };
        let said = served.process.stdout.take().context("the server's output")?;
        for line in BufReader::new(said).lines() {
            if let Some(at) = line?.strip_prefix(ANSWERS) {
                served.address = bounds::loopback(at.parse()?)?;
                return Ok(served);
            }
        }
        anyhow::bail!("the server does not start; see {}", log.display())
    }
}

impl Served {
    /// Tells it to stop and waits for it. Once it has ended this does nothing.
    fn stop(&mut self) {
        if matches!(self.process.try_wait(), Ok(Some(_))) {
            return;
        }
        let asked = kill(Pid::from_raw(self.process.id().cast_signed()), Signal::SIGTERM);
        if asked.is_err() || self.process.wait().is_err() {
            eprintln!("the server at {} does not stop", self.address);
        }
    }
}

impl Drop for Served {
    fn drop(&mut self) {
        self.stop();
    }
}

impl Drop for Stage {
    fn drop(&mut self) {
        self.served.stop();
        let stopped = self.cluster.take().is_none_or(|cluster| cluster.stop().is_ok());
        if !(stopped && fs::remove_dir_all(&self.folder).is_ok()) {
            eprintln!("{} is left behind", self.folder.display());
        }
    }
}
