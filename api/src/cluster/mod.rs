//! A private PostgreSQL cluster, kept by this process.
//!
//! [`Cluster::start`] makes the cluster when its folder is empty, starts it on a Unix socket that
//! only its own account can reach, and stops it when the value goes out of scope. Nothing listens
//! on the network and no password is stored: whoever may enter the socket's folder is trusted.
//!
//! What the data folder holds:
//!
//! ```text
//! parings.lock    held by the process that keeps the cluster; its number is inside
//! postgres/       the cluster's own files
//! postgres.log    what PostgreSQL said since its last start; postgres.log.1 from the start before
//! socket/         the Unix socket, unless the folder's path is too long for one
//! keys/           what sessions are signed with
//! server.log      what Parings logged since its last start at a terminal, or since it was as long as
//!                 a log may be; server.log.1 from before
//! ```
//!
//! The cluster never outlives its keeper for long. A small `sh` waits on a pipe that closes when
//! the keeper ends, however it ends, and then asks the server to stop. Should that fail too, the
//! next start finds the orphan, stops it and goes on.
//!
//! Everything here is synchronous, so that it can run before the process gives up root
//! ([`account::drop_to`]) and before any async runtime exists.

pub mod account;
mod error;
mod folder;
mod keeper;
mod postmaster;
mod programs;
pub mod roles;

use std::fs::File;
use std::path::{Path, PathBuf};

pub use account::Account;
pub use error::ClusterError;
use folder::Folder;
pub use keeper::Keeper;
use postmaster::Postmaster;
use programs::Programs;

/// The superuser of a private cluster, for bootstrap only; the server itself never signs in as it.
pub const SUPERUSER: &str = "postgres";

/// The number in the socket's file name. Not 5432, so that no tool that looks for the machine's
/// usual server finds this one by mistake.
const PORT: u16 = 5499;

/// What a private cluster needs to know.
#[derive(Debug, Clone)]
pub struct Settings {
    /// The data folder; created when missing, and otherwise empty or a data folder of ours.
    pub data: PathBuf,
    /// False gives up crash safety for speed; for tests only.
    pub fsync: bool,
    /// Further server settings, each a name and a value; they win over the ones chosen here.
    pub extra: Vec<(String, String)>,
}

impl Settings {
    /// A crash-safe cluster in `data`.
    pub fn new(data: impl Into<PathBuf>) -> Self {
        Self { data: data.into(), fsync: true, extra: Vec::new() }
    }
}

/// Where a start has got to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Step {
    /// Looking for PostgreSQL's programs.
    FindPrograms,
    /// Making a new cluster; only in an empty folder.
    CreateCluster,
    /// Ending a server whose keeper died; only when there is one.
    StopOrphan,
    /// Waiting for the server to accept connections.
    StartServer,
}

/// A running private cluster; it stops when dropped.
#[derive(Debug)]
pub struct Cluster {
    postmaster: Postmaster,
    programs: Programs,
    folder: Folder,
    account: Account,
    settings: Settings,
    /// Held for as long as the cluster is kept; declared last, so released last.
    _lock: File,
}

impl Cluster {
    /// Starts the cluster of `settings.data`, making it first when the folder is empty.
    ///
    /// # Errors
    /// [`ClusterError::InUse`] when another process keeps this folder's cluster; the other
    /// variants say what was missing or what PostgreSQL answered.
    ///
    /// # Example
    /// ```no_run
    /// use parings::cluster::{Cluster, SUPERUSER, Settings};
    ///
    /// let cluster = Cluster::start(&Settings::new("/var/lib/parings"))?;
    /// println!("{}", cluster.url(SUPERUSER, "postgres"));
    /// cluster.stop()?;
    /// # Ok::<(), parings::cluster::ClusterError>(())
    /// ```
    pub fn start(settings: &Settings) -> Result<Self, ClusterError> {
        Self::start_reporting(settings, |_| ())
    }

    /// Like [`Cluster::start`], and calls `report` at the beginning of each step.
    ///
    /// # Errors
    /// As for [`Cluster::start`].
    pub fn start_reporting(
        settings: &Settings,
        mut report: impl FnMut(Step),
    ) -> Result<Self, ClusterError> {
        let data = std::path::absolute(&settings.data)
            .map_err(|source| ClusterError::folder(&settings.data, source))?;
        let account = Account::for_data(&data)?;
        let folder = Folder::claim(data, &account)?;
        let lock = folder.lock(&account)?;

        report(Step::FindPrograms);
        let programs = Programs::find(folder.version()?)?;

        if folder.version()?.is_none() {
            report(Step::CreateCluster);
            folder.create_cluster(&programs, &account, settings.fsync)?;
        }
        if let Some(orphan) = postmaster::orphan(&folder.postgres())? {
            report(Step::StopOrphan);
            orphan.stop()?;
        }

        report(Step::StartServer);
        let postmaster = start_server(&programs, &folder, &account, settings)?;
        let settings = settings.clone();
        Ok(Self { postmaster, programs, folder, account, settings, _lock: lock })
    }

    /// Starts the server again after it has ended by itself; what is left of it goes first. Its clients
    /// connect again at the same place.
    ///
    /// # Errors
    /// As for [`Cluster::start`]; it can be tried again.
    pub fn restart(&mut self) -> Result<(), ClusterError> {
        self.postmaster.stop()?;
        if let Some(orphan) = postmaster::orphan(&self.folder.postgres())? {
            orphan.stop()?;
        }
        self.postmaster =
            start_server(&self.programs, &self.folder, &self.account, &self.settings)?;
        Ok(())
    }

    /// The folder that holds the socket; only the cluster's account may enter it.
    pub fn socket_dir(&self) -> &Path {
        self.folder.socket_dir()
    }

    /// The data folder, absolute.
    pub fn data(&self) -> &Path {
        self.folder.data()
    }

    /// What the server said since its last start.
    pub fn log(&self) -> PathBuf {
        self.folder.log()
    }

    /// The account the server runs as, and the one this process should drop to.
    pub fn account(&self) -> &Account {
        &self.account
    }

    /// A connection URL for `role` on `database`, in the form tokio-postgres, diesel-async and
    /// libpq accept: the socket's folder stands percent-encoded in the place of the host.
    pub fn url(&self, role: &str, database: &str) -> String {
        url_at(self.socket_dir(), role, database)
    }

    /// Whether the server is still there. It may end without us: out of memory, or by hand.
    pub fn is_running(&mut self) -> bool {
        self.postmaster.is_running()
    }

    /// Stops the server: first in good order, after a bound without ceremony.
    ///
    /// # Errors
    /// [`ClusterError::WillNotStop`] when the server survives both.
    pub fn stop(mut self) -> Result<(), ClusterError> {
        self.end()
    }

    fn end(&mut self) -> Result<(), ClusterError> {
        self.postmaster.stop()?;
        self.folder.forget_short_socket_dir();
        Ok(())
    }
}

fn start_server(
    programs: &Programs,
    folder: &Folder,
    account: &Account,
    settings: &Settings,
) -> Result<Postmaster, ClusterError> {
    folder.make_socket_dir(account)?;
    folder.rotate_log()?;
    Postmaster::start(programs, folder, account, settings)
}

impl Drop for Cluster {
    fn drop(&mut self) {
        if let Err(error) = self.end() {
            tracing::error!(%error, "the private cluster did not stop");
        }
    }
}

/// A connection URL on the cluster that another process keeps in the folder `data`.
///
/// # Errors
/// [`ClusterError::NotRunning`] when there is none, or this account may not see it.
pub fn url_of_running(data: &Path, role: &str, database: &str) -> Result<String, ClusterError> {
    let data = std::path::absolute(data).map_err(|source| ClusterError::folder(data, source))?;
    let socket_dir = folder::socket_dir_for(&data);
    if !folder::socket_in(&socket_dir).exists() {
        return Err(ClusterError::NotRunning { path: data });
    }
    Ok(url_at(&socket_dir, role, database))
}

fn url_at(socket_dir: &Path, role: &str, database: &str) -> String {
    let host = percent_encode(socket_dir.as_os_str().as_encoded_bytes());
    let role = percent_encode(role.as_bytes());
    let database = percent_encode(database.as_bytes());
    format!("postgresql://{role}@{host}:{PORT}/{database}")
}

/// Encodes every byte but the unreserved ones of RFC 3986.
fn percent_encode(bytes: &[u8]) -> String {
    let mut out = String::with_capacity(bytes.len());
    for &byte in bytes {
        match byte {
            b'A'..=b'Z' | b'a'..=b'z' | b'0'..=b'9' | b'-' | b'.' | b'_' | b'~' => {
                out.push(char::from(byte));
            }
            _ => out.push_str(&format!("%{byte:02X}")),
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::percent_encode;

    /// RFC 3986, sections 2.1 and 2.3: unreserved characters stay, others become %XX in upper
    /// case. From memory.
    #[test]
    fn percent_encoding_keeps_only_unreserved_characters() {
        assert_eq!(percent_encode(b"aZ09-._~"), "aZ09-._~");
        assert_eq!(percent_encode(b"/tmp/a b:@"), "%2Ftmp%2Fa%20b%3A%40");
        assert_eq!(percent_encode("é".as_bytes()), "%C3%A9");
    }
}
