//! The data folder: who owns it, who keeps it, and what lies where.

use std::fs::{self, DirBuilder, File, OpenOptions, Permissions, TryLockError};
use std::hash::{DefaultHasher, Hash, Hasher};
use std::io::{self, Read, Seek, Write};
use std::os::unix::fs::{DirBuilderExt, OpenOptionsExt, PermissionsExt};
use std::path::{Path, PathBuf};

use super::programs::Programs;
use super::{Account, ClusterError, PORT, SUPERUSER};

/// The longest path a Unix socket may have; macOS allows 103 bytes, Linux 107.
const LONGEST_SOCKET_PATH: usize = 103;

/// A data folder that is ours to use.
#[derive(Debug)]
pub(super) struct Folder {
    data: PathBuf,
    socket_dir: PathBuf,
}

impl Folder {
    /// Makes the folder if needed and gives it to `account`, closed to everybody else. A folder
    /// that holds anything else is left alone.
    pub(super) fn claim(data: PathBuf, account: &Account) -> Result<Self, ClusterError> {
        fs::create_dir_all(&data).map_err(|source| ClusterError::folder(&data, source))?;
        if let Some(obstacle) = account.obstacle(&data) {
            let (account, path) = (account.name().to_owned(), obstacle.to_owned());
            return Err(ClusterError::Unreachable { account, path });
        }
        let folder = Self { socket_dir: socket_dir_for(&data), data };
        folder.secure(account)?;
        Ok(folder)
    }

    fn secure(&self, account: &Account) -> Result<(), ClusterError> {
        let fail = |source| ClusterError::folder(&self.data, source);
        let found = fs::metadata(&self.data).map_err(fail)?;
        let root = nix::unistd::geteuid().is_root();
        if !root && !account.owns(&found) {
            let owner = std::os::unix::fs::MetadataExt::uid(&found);
            return Err(ClusterError::NotOwner { path: self.data.clone(), owner });
        }
        let empty = fs::read_dir(&self.data).map_err(fail)?.next().is_none();
        if !empty && !self.lock_path().exists() {
            return Err(ClusterError::NotOurs { path: self.data.clone() });
        }
        account.take(&self.data).map_err(fail)?;
        fs::set_permissions(&self.data, Permissions::from_mode(0o700)).map_err(fail)
    }

    /// Takes the lock that says who keeps this cluster. The system releases it when the process
    /// ends, however it ends.
    pub(super) fn lock(&self, account: &Account) -> Result<File, ClusterError> {
        let path = self.lock_path();
        let fail = |source| ClusterError::folder(&path, source);
        let mut options = OpenOptions::new();
        options.read(true).write(true).create(true).truncate(false).mode(0o600);
        let mut lock = options.open(&path).map_err(fail)?;
        account.take(&path).map_err(fail)?;
        match lock.try_lock() {
            Ok(()) => {}
            Err(TryLockError::WouldBlock) => {
                let mut keeper = String::new();
                lock.read_to_string(&mut keeper).map_err(fail)?;
                let keeper = keeper.trim().to_owned();
                return Err(ClusterError::InUse { path: self.data.clone(), keeper });
            }
            Err(TryLockError::Error(source)) => return Err(fail(source)),
        }
        lock.set_len(0).and_then(|()| lock.rewind()).map_err(fail)?;
        writeln!(lock, "{}", std::process::id()).map_err(fail)?;
        Ok(lock)
    }

    /// The major version that made the cluster; none when there is no cluster yet.
    pub(super) fn version(&self) -> Result<Option<u32>, ClusterError> {
        let path = self.postgres().join("PG_VERSION");
        match fs::read_to_string(&path) {
            Ok(text) => text.trim().parse().map(Some).map_err(|_| {
                ClusterError::folder(&path, io::Error::other("not a PostgreSQL version"))
            }),
            Err(error) if error.kind() == io::ErrorKind::NotFound => Ok(None),
            Err(source) => Err(ClusterError::folder(&path, source)),
        }
    }

    /// Runs initdb beside the final place and renames, so that half a cluster is never taken for
    /// a whole one.
    pub(super) fn create_cluster(
        &self,
        programs: &Programs,
        account: &Account,
        fsync: bool,
    ) -> Result<(), ClusterError> {
        let new = self.data.join("postgres.new");
        remove(&new).map_err(|source| ClusterError::folder(&new, source))?;
        let mut initdb = account.command(&programs.initdb);
        initdb.current_dir(&self.data).arg("-D").arg(&new).args(["-U", SUPERUSER, "-A", "trust"]);
        initdb.args(["-E", "UTF8", "--locale=C", "--data-checksums"]);
        if !fsync {
            initdb.arg("--no-sync");
        }
        let output =
            initdb.output().map_err(|source| ClusterError::run(&programs.initdb, source))?;
        if !output.status.success() {
            let output = String::from_utf8_lossy(&output.stderr).trim().to_owned();
            return Err(ClusterError::Initdb { output });
        }
        fs::rename(&new, self.postgres())
            .and_then(|()| File::open(&self.data)?.sync_all())
            .map_err(|source| ClusterError::folder(&new, source))
    }

    /// Makes the socket's folder anew, so that nothing of an earlier server is left in it.
    pub(super) fn make_socket_dir(&self, account: &Account) -> Result<(), ClusterError> {
        let path = &self.socket_dir;
        let fail = |source| ClusterError::folder(path, source);
        match fs::symlink_metadata(path) {
            // The short place lies in a folder where anybody may write.
            Ok(found) if !found.is_dir() || !account.owns(&found) => {
                return Err(fail(io::Error::other("it is there already and not ours")));
            }
            Ok(_) => remove(path).map_err(fail)?,
            Err(_) => {}
        }
        DirBuilder::new().mode(0o700).create(path).map_err(fail)?;
        account.take(path).map_err(fail)
    }

    /// Removes the socket's folder when it lies outside the data folder.
    pub(super) fn forget_short_socket_dir(&self) {
        if !self.socket_dir.starts_with(&self.data)
            && let Err(error) = remove(&self.socket_dir)
        {
            tracing::warn!(%error, folder = %self.socket_dir.display(), "a folder is left over");
        }
    }

    /// Keeps the log of the start before and lets a new one begin.
    pub(super) fn rotate_log(&self) -> Result<(), ClusterError> {
        let log = self.log();
        match fs::rename(&log, self.data.join("postgres.log.1")) {
            Err(error) if error.kind() != io::ErrorKind::NotFound => {
                Err(ClusterError::folder(&log, error))
            }
            _ => Ok(()),
        }
    }

    pub(super) fn data(&self) -> &Path {
        &self.data
    }

    pub(super) fn postgres(&self) -> PathBuf {
        self.data.join("postgres")
    }

    pub(super) fn log(&self) -> PathBuf {
        self.data.join("postgres.log")
    }

    pub(super) fn socket_dir(&self) -> &Path {
        &self.socket_dir
    }

    fn lock_path(&self) -> PathBuf {
        self.data.join("parings.lock")
    }
}

/// The socket lies in the data folder if its path fits, else in a short folder under `/tmp` whose
/// name follows from the data folder, so that starts do not leave one each behind.
pub(super) fn socket_dir_for(data: &Path) -> PathBuf {
    let socket_dir = data.join("socket");
    if socket_in(&socket_dir).as_os_str().len() <= LONGEST_SOCKET_PATH {
        return socket_dir;
    }
    let mut hasher = DefaultHasher::new();
    data.hash(&mut hasher);
    PathBuf::from(format!("/tmp/parings-{:016x}", hasher.finish()))
}

/// The socket itself, as PostgreSQL names it.
pub(super) fn socket_in(socket_dir: &Path) -> PathBuf {
    socket_dir.join(format!(".s.PGSQL.{PORT}"))
}

fn remove(folder: &Path) -> io::Result<()> {
    match fs::remove_dir_all(folder) {
        Err(error) if error.kind() != io::ErrorKind::NotFound => Err(error),
        _ => Ok(()),
    }
}

#[cfg(test)]
mod tests {
    use std::path::{Path, PathBuf};

    use super::{LONGEST_SOCKET_PATH, socket_dir_for};

    #[test]
    fn a_short_data_folder_holds_its_own_socket() {
        assert_eq!(socket_dir_for(Path::new("/srv/p")), PathBuf::from("/srv/p/socket"));
    }

    /// `sun_path` holds 108 bytes on Linux (unix(7)) and 104 on macOS, with the closing zero.
    /// From memory.
    #[test]
    fn the_socket_path_always_fits() {
        for length in [1, 60, 80, 82, 83, 84, 200, 3000] {
            let data = PathBuf::from(format!("/{}", "x".repeat(length)));
            let socket = socket_dir_for(&data).join(".s.PGSQL.5499");
            assert!(socket.as_os_str().len() <= LONGEST_SOCKET_PATH, "{}", socket.display());
        }
    }
}
