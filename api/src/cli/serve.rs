//! `parings serve`: the server alone, on a database that is there.

use std::net::{IpAddr, SocketAddr, TcpListener};
use std::path::{Path, PathBuf};
use std::pin::pin;

use anyhow::Context;
use clap::Args;
use parings::app::ground::readiness;
use parings::boot::{self, Built};
use parings::config::{Config, DatabaseConfig, HttpConfig, SigninConfig};
use parings::edge::Clock;
use parings::{db, jobs, telemetry};
use tokio::signal::unix::{SignalKind, signal};

use super::welcome;

/// The server alone, on a database that is there.
#[derive(Debug, Args)]
pub struct Serve {
    /// Connects as the login that serves requests: a member of parings_app and of nothing else
    #[arg(long, value_name = "URL", env = "DATABASE_URL", hide_env_values = true)]
    database_url: String,
    /// Connects as the role that owns the schema, to make the partitions of coming months; without
    /// it, run `parings migrate` once a month
    #[arg(long, value_name = "URL", env = "OWNER_DATABASE_URL", hide_env_values = true)]
    owner_database_url: Option<String>,
    /// Where the keys are that sessions are signed with, in its folder `keys`; made when missing
    #[arg(long, value_name = "DIR", env = "PARINGS_DATA", default_value = ".parings")]
    data: PathBuf,
    #[command(flatten)]
    listening: Listening,
}

/// Where to listen, and behind what.
#[derive(Debug, Args)]
pub struct Listening {
    /// The address to listen on; 0.0.0.0 for every network of the machine
    #[arg(long, value_name = "IP", default_value = "127.0.0.1", env = "PARINGS_ADDRESS")]
    address: IpAddr,
    /// The port to listen on; 0 for any that is free
    #[arg(long, default_value_t = 8080, env = "PARINGS_PORT")]
    port: u16,
    /// How many proxies requests come through, one behind the other; with 0, what X-Forwarded-For
    /// says is not believed
    #[arg(long, value_name = "N", default_value_t = 0, env = "PARINGS_PROXIES")]
    proxies: usize,
}

impl Listening {
    fn at(&self) -> SocketAddr {
        SocketAddr::new(self.address, self.port)
    }

    /// Takes the address. A port below 1024 may need root, which is given up later.
    pub fn listen(&self) -> anyhow::Result<TcpListener> {
        let at = self.at();
        TcpListener::bind(at)
            .with_context(|| format!("cannot listen on {at}; choose another port with --port"))
    }

    /// What a person on this machine types into a browser.
    pub fn site(&self, port: u16) -> String {
        let host = match self.address {
            IpAddr::V4(any) if any.is_unspecified() => IpAddr::from([127, 0, 0, 1]),
            IpAddr::V6(any) if any.is_unspecified() => IpAddr::from([0, 0, 0, 0, 0, 0, 0, 1]),
            one => one,
        };
        format!("http://{}", SocketAddr::new(host, port))
    }
}

impl Serve {
    /// Serves until a signal says stop.
    pub fn run(self) -> anyhow::Result<()> {
        telemetry::start();
        let listener = self.listening.listen()?;
        let config = config(self.database_url, &self.data, &self.listening);
        runtime()?.block_on(async {
            db::login::check(&config.database.url).await?;
            let deps = boot::deps(config, Clock::Machine)?;
            if let Err(error) = readiness::check(&deps).await {
                tracing::warn!(error.cause = %error, "not ready: run `parings migrate`");
            }
            if nix::unistd::geteuid().is_root() {
                tracing::warn!("serving as root; give the server an account of its own");
            }
            let built = boot::build_on(deps, listener)?;
            let stop = stop_signal();
            welcome::say(&format!("Parings answers at {}", self.listening.site(built.port)));
            until_stopped(built, self.owner_database_url, stop).await
        })
    }
}

/// The settings of a server that is started by this command.
pub fn config(database_url: String, data: &Path, listening: &Listening) -> Config {
    Config {
        database: DatabaseConfig::at(database_url),
        http: HttpConfig {
            listen: listening.at(),
            proxies: listening.proxies,
            ..HttpConfig::default()
        },
        signin: SigninConfig::with_keys(data.join("keys")),
    }
}

/// Made by hand and with threads: embedded migrations block in place, which a current-thread
/// runtime does not allow, and `main` has work to do before any runtime exists.
pub fn runtime() -> std::io::Result<tokio::runtime::Runtime> {
    tokio::runtime::Builder::new_multi_thread().enable_all().build()
}

/// Serves until `stop` comes back, and then finishes open requests, unless a second signal says
/// that it must not take that long.
pub async fn until_stopped(
    built: Built,
    owner_url: Option<String>,
    stop: impl Future<Output = ()>,
) -> anyhow::Result<()> {
    match owner_url {
        Some(url) => drop(tokio::spawn(jobs::partitions::run(url, built.deps.clock.clone()))),
        None => tracing::warn!(
            "OWNER_DATABASE_URL is not set: run `parings migrate` at least once a month, \
             it makes the partitions of coming months"
        ),
    }
    drop(tokio::spawn(jobs::openings::run(built.deps.clone())));
    drop(tokio::spawn(jobs::nightly::run(built.deps.clone())));
    drop(tokio::spawn(jobs::retally::run(built.deps.clone())));
    drop(tokio::spawn(jobs::weeks::run(built.deps.clone())));
    let handle = built.server.handle();
    let mut server = pin!(built.server);
    tokio::select! {
        ended = &mut server => {
            ended?;
            anyhow::bail!("the server ended by itself");
        }
        () = stop => tracing::info!("stopping; open requests finish"),
    }
    let finish = async { tokio::join!(handle.stop(true), server).1 };
    tokio::select! {
        finished = finish => Ok(finished?),
        () = stop_signal() => {
            tracing::warn!("asked to stop a second time; open requests are cut off");
            Ok(())
        }
    }
}

/// Comes back when the process is asked to stop: Ctrl-C, or SIGTERM from a supervisor. It listens
/// from the call on, not only from the first poll, so that nobody is told that the server answers
/// before it can be stopped in good order. Call it inside a runtime.
pub fn stop_signal() -> impl Future<Output = ()> {
    let (interrupt, terminate) = (signal(SignalKind::interrupt()), signal(SignalKind::terminate()));
    async move {
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
}
