//! What can go wrong with a private cluster, said so that the reader knows what to do next. What
//! the system or PostgreSQL answered is the error's source, not part of its own text.

use std::io;
use std::path::{Path, PathBuf};

/// Why a private cluster could not be started, prepared or stopped.
#[derive(Debug, thiserror::Error)]
pub enum ClusterError {
    /// No usable PostgreSQL on this machine.
    #[error(
        "found no PostgreSQL server programs{} in PATH, by pg_config or under /usr/lib/postgresql; \
         install them with `apt-get install postgresql` or `brew install postgresql@17`",
        wanted(*.version)
    )]
    NoPrograms {
        /// The major version the data folder needs, when it already holds a cluster.
        version: Option<u32>,
    },
    /// Started as root on a machine that has no account to run PostgreSQL as.
    #[error("PostgreSQL does not run as root, and there is no account `postgres` or `nobody`")]
    NoAccount,
    /// The database's account cannot get to the data folder.
    #[error(
        "the account `{account}` cannot enter {}; choose another folder with --data, \
         such as /var/lib/parings",
        .path.display()
    )]
    Unreachable {
        /// The account that has to enter.
        account: String,
        /// The folder it cannot enter.
        path: PathBuf,
    },
    /// The data folder is somebody else's.
    #[error(
        "{} belongs to the account with number {owner}; start as that account or as root, or \
         choose another folder with --data",
        .path.display()
    )]
    NotOwner {
        /// The data folder.
        path: PathBuf,
        /// Its owner.
        owner: u32,
    },
    /// The data folder holds something else.
    #[error("{} holds other files; choose an empty or a new folder with --data", .path.display())]
    NotOurs {
        /// The folder.
        path: PathBuf,
    },
    /// Another process keeps the cluster of this folder.
    #[error(
        "{} is in use by another Parings (process {keeper}); stop that one first, or choose \
         another folder with --data",
        .path.display()
    )]
    InUse {
        /// The data folder.
        path: PathBuf,
        /// The process number the keeper wrote down.
        keeper: String,
    },
    /// Nobody keeps a cluster in this folder.
    #[error(
        "no Parings runs in {}, or this account may not look; start it with `parings up`, say \
         where its data are with --data, or name another database with OWNER_DATABASE_URL",
        .path.display()
    )]
    NotRunning {
        /// The data folder.
        path: PathBuf,
    },
    /// Reading or writing the data folder failed.
    #[error("cannot use {}; another folder can be chosen with --data", .path.display())]
    Folder {
        /// The file or folder.
        path: PathBuf,
        /// What the system answered.
        source: io::Error,
    },
    /// A program could not be run.
    #[error("cannot run {}", .program.display())]
    Run {
        /// The program.
        program: PathBuf,
        /// What the system answered.
        source: io::Error,
    },
    /// Making the cluster failed.
    #[error("initdb could not make the cluster:\n{output}")]
    Initdb {
        /// What initdb wrote.
        output: String,
    },
    /// The server ended, or took too long, before it accepted connections.
    #[error("PostgreSQL {what}; its log {} ends with:\n{tail}", .log.display())]
    NotReady {
        /// What happened.
        what: &'static str,
        /// The log file.
        log: PathBuf,
        /// Its last lines.
        tail: String,
    },
    /// The server survived every request to stop.
    #[error("PostgreSQL (process {pid}) does not stop")]
    WillNotStop {
        /// The server's process number.
        pid: i32,
    },
    /// Giving up root failed.
    #[error("cannot become the account `{account}`")]
    Drop {
        /// The account to become.
        account: String,
        /// What the system answered.
        source: io::Error,
    },
    /// Preparing roles or the database failed.
    #[error("cannot prepare the cluster's roles")]
    Roles(#[source] Box<dyn std::error::Error + Send + Sync>),
}

impl ClusterError {
    pub(super) fn folder(path: &Path, source: io::Error) -> Self {
        Self::Folder { path: path.to_owned(), source }
    }

    pub(super) fn run(program: &Path, source: io::Error) -> Self {
        Self::Run { program: program.to_owned(), source }
    }
}

fn wanted(version: Option<u32>) -> String {
    match version {
        Some(version) => format!(" of version {version}, which made this cluster,"),
        None => format!(" of version {} or later", super::programs::OLDEST),
    }
}
