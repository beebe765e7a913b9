//! The private database of a data folder, started by a command and stopped with it.

use std::fs;
use std::path::{Path, PathBuf};

use nix::unistd::{AccessFlags, access, geteuid};
use parings::app::Deps;
use parings::app::night::weeks;
use parings::cluster::{Account, Cluster, SUPERUSER, Settings, Step, account, roles};
use parings::demo;
use parings::edge::Clock;

use super::progress::Progress;

/// What is told while the cluster starts.
pub const STEPS: [&str; 4] = ["find programs", "create cluster", "start cluster", "roles"];

/// A running private cluster. The process has the account of its database from here on.
pub struct Machine {
    /// The database cluster that runs.
    pub cluster: Cluster,
    /// Where its data live.
    pub data: PathBuf,
    /// The URL of the database for the role that owns it.
    pub owner_url: String,
    /// The URL of the database for the role that only reads.
    pub read_url: String,
    /// The URL of the database for the role that the server works as.
    pub app_url: String,
}

impl Machine {
    /// Starts the cluster of a folder, and gives up root.
    pub fn start(data: PathBuf, progress: &mut Progress) -> anyhow::Result<Self> {
        progress.say(&format!("data in {}", std::path::absolute(&data)?.display()));
        let cluster = Cluster::start_reporting(&Settings::new(data), |step| {
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
        Ok(Self {
            data: cluster.data().to_owned(),
            owner_url: cluster.url(roles::OWNER, roles::DATABASE),
            read_url: cluster.url(roles::READ, roles::DATABASE),
            app_url: cluster.url(roles::APP, roles::DATABASE),
            cluster,
        })
    }
}

/// Loads the demo into a network without stores; says whether it did. A note lies in the folder while
/// it is at it, so that a load that was broken off is not taken for a whole one.
pub async fn load_demo(
    deps: &Deps,
    owner_url: &str,
    data: &Path,
    size: demo::Size,
    progress: &mut Progress,
) -> anyhow::Result<bool> {
    let note = data.join("demo-unfinished");
    anyhow::ensure!(
        !note.exists(),
        "the demo was broken off while it was loaded; stop the server, remove {} and start again",
        data.display()
    );
    progress.begin("demo");
    fs::write(&note, "the demo is being loaded\n")?;
    let now = Clock::Machine.now();
    let step = |done, of| progress.part(done, of);
    let loaded = demo::load(deps, owner_url, data, size, now, step).await?;
    fs::remove_file(&note)?;
    progress.begin("weeks");
    weeks::keep(deps, |done, of| progress.part(done, of)).await?;
    Ok(loaded.is_some())
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
