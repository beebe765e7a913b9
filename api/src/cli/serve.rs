//! `parings serve`: the server alone, on a database that is there.

use clap::Args;
use tokio::signal::unix::{SignalKind, signal};

use super::progress::Progress;

/// The server alone, on a database that is there.
#[derive(Debug, Args)]
pub struct Serve {
    /// Connects as the role that serves requests
    #[arg(long, value_name = "URL", env = "DATABASE_URL", hide_env_values = true)]
    database_url: String,
    /// Connects as the role that looks people up at sign-in [default: as DATABASE_URL does]
    #[arg(long, value_name = "URL", env = "SIGNIN_DATABASE_URL", hide_env_values = true)]
    signin_database_url: Option<String>,
    /// Connects as the role that runs background work [default: as DATABASE_URL does]
    #[arg(long, value_name = "URL", env = "JOBS_DATABASE_URL", hide_env_values = true)]
    jobs_database_url: Option<String>,
    /// The port to listen on
    #[arg(long, default_value_t = 8080, env = "PARINGS_PORT")]
    port: u16,
}

/// Where each part of the server connects to, every part as a role of its own.
#[derive(Debug)]
pub struct Databases {
    /// Serves requests.
    pub app: String,
    /// Looks up people and sessions at sign-in.
    pub signin: String,
    /// Runs background work.
    pub jobs: String,
}

impl Serve {
    /// Serves until a signal says stop.
    pub fn run(self) -> anyhow::Result<()> {
        let mut progress = Progress::new(&["serve"]);
        let app = self.database_url;
        let databases = Databases {
            signin: self.signin_database_url.unwrap_or_else(|| app.clone()),
            jobs: self.jobs_database_url.unwrap_or_else(|| app.clone()),
            app,
        };
        let stop = stop_signal();
        runtime()?.block_on(serve_until_stopped(&databases, self.port, &mut progress, stop))
    }
}

/// Made by hand and with threads: embedded migrations block in place, which a current-thread
/// runtime does not allow, and `main` has work to do before any runtime exists.
pub fn runtime() -> std::io::Result<tokio::runtime::Runtime> {
    tokio::runtime::Builder::new_multi_thread().enable_all().build()
}

/// Serves `databases` on `port` until `stop` comes back.
pub async fn serve_until_stopped(
    databases: &Databases,
    port: u16,
    progress: &mut Progress,
    stop: impl Future<Output = ()>,
) -> anyhow::Result<()> {
    progress.begin("serve");
    for url in [&databases.app, &databases.signin, &databases.jobs] {
        let (_client, _connection) = tokio_postgres::connect(url, tokio_postgres::NoTls).await?;
    }
    progress.finish();
    progress.say(&format!("the database answers; port {port} is not opened in this build"));
    stop.await;
    Ok(())
}

/// Comes back when the process is asked to stop: Ctrl-C, or SIGTERM from a supervisor.
pub async fn stop_signal() {
    let (interrupt, terminate) = (signal(SignalKind::interrupt()), signal(SignalKind::terminate()));
    match (interrupt, terminate) {
        (Ok(mut interrupt), Ok(mut terminate)) => {
            tokio::select! {
                _ = interrupt.recv() => {}
                _ = terminate.recv() => {}
            }
        }
        // Without handlers the signals end the process at once, as they do by default.
        _ => std::future::pending().await,
    }
}
