//! `parings up`: a private database, its schema, and the server, in one process.

use std::path::PathBuf;
use std::time::Duration;

use clap::Args;
use nix::unistd::{AccessFlags, access, geteuid};
use parings::cluster::{Account, Cluster, SUPERUSER, Settings, Step, account, roles};

use super::progress::Progress;
use super::serve::{Databases, runtime, serve_until_stopped, stop_signal};

const STEPS: [&str; 7] =
    ["find programs", "create cluster", "start cluster", "roles", "migrate", "demo", "serve"];

/// Everything on this machine: a private database, its schema, and the server.
#[derive(Debug, Args)]
pub struct Up {
    /// Where the data lives [default: ./.parings, or /var/lib/parings when the database's account
    /// cannot reach that]
    #[arg(long, value_name = "DIR", env = "PARINGS_DATA")]
    data: Option<PathBuf>,
    /// The port to listen on
    #[arg(long, default_value_t = 8080, env = "PARINGS_PORT")]
    port: u16,
}

impl Up {
    /// Starts the cluster first, then gives up root, then makes the runtime.
    pub fn run(self) -> anyhow::Result<()> {
        let data = self.data.map_or_else(default_data, Ok)?;
        let mut progress = Progress::new(&STEPS);
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

        let databases = Databases {
            app: cluster.url(roles::APP, roles::DATABASE),
            signin: cluster.url(roles::SIGNIN, roles::DATABASE),
            jobs: cluster.url(roles::JOBS, roles::DATABASE),
        };
        let stop = async {
            tokio::select! {
                () = stop_signal() => {}
                () = ended(&mut cluster) => {}
            }
        };
        let served =
            runtime()?.block_on(serve_until_stopped(&databases, self.port, &mut progress, stop));
        let database_lived = cluster.is_running();
        let log = cluster.log();
        cluster.stop()?;
        served?;
        anyhow::ensure!(database_lived, "PostgreSQL ended by itself; see {}", log.display());
        Ok(())
    }
}

/// Comes back when the database has ended without being asked to.
async fn ended(cluster: &mut Cluster) {
    while cluster.is_running() {
        tokio::time::sleep(Duration::from_millis(500)).await;
    }
}

/// `./.parings` if the database's account can get there, else `/var/lib/parings`.
fn default_data() -> anyhow::Result<PathBuf> {
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
