//! Finds PostgreSQL's server programs.

use std::fs;
use std::io::Read;
use std::path::{Path, PathBuf};
use std::process::Command;

use super::ClusterError;

/// The oldest major version the schema works with.
pub(super) const OLDEST: u32 = 15;

/// The two programs that make and run a cluster, of one installation.
#[derive(Debug)]
pub(super) struct Programs {
    pub(super) initdb: PathBuf,
    pub(super) postgres: PathBuf,
}

impl Programs {
    /// Looks in PATH, then asks `pg_config`, then looks under `/usr/lib/postgresql`, newest first.
    /// A cluster that exists needs exactly the major version that made it.
    pub(super) fn find(version: Option<u32>) -> Result<Self, ClusterError> {
        path_folders()
            .into_iter()
            .chain(pg_config_folder())
            .chain(packaged_folders())
            .filter_map(|folder| Self::within(&folder))
            .find(|programs| match (programs.major(), version) {
                (Some(found), Some(needed)) => found == needed,
                (Some(found), None) => found >= OLDEST,
                (None, _) => false,
            })
            .ok_or(ClusterError::NoPrograms { version })
    }

    /// Links are followed, because initdb looks for its share files next to itself. Scripts are
    /// passed over: a wrapper may change the account or the folder, and would hide the server's
    /// process number from us.
    fn within(folder: &Path) -> Option<Self> {
        let initdb = fs::canonicalize(folder.join("initdb")).ok()?;
        let postgres = fs::canonicalize(initdb.with_file_name("postgres")).ok()?;
        (!is_script(&initdb) && !is_script(&postgres)).then_some(Self { initdb, postgres })
    }

    fn major(&self) -> Option<u32> {
        let output = Command::new(&self.postgres).arg("--version").output().ok()?;
        major_of(&String::from_utf8_lossy(&output.stdout))
    }
}

/// Reads `postgres (PostgreSQL) 15.14 (Debian 15.14-0+deb12u1)`, also `16beta1` and `18devel`.
fn major_of(banner: &str) -> Option<u32> {
    let number = banner.split_whitespace().nth(2)?;
    let digits = number.split(|c: char| !c.is_ascii_digit()).next()?;
    digits.parse().ok()
}

fn is_script(program: &Path) -> bool {
    let mut start = [0; 2];
    let read = fs::File::open(program).and_then(|mut file| file.read_exact(&mut start));
    read.is_ok() && start == *b"#!"
}

fn path_folders() -> Vec<PathBuf> {
    std::env::var_os("PATH").map(|path| std::env::split_paths(&path).collect()).unwrap_or_default()
}

fn pg_config_folder() -> Option<PathBuf> {
    let output = Command::new("pg_config").arg("--bindir").output().ok()?;
    let folder = String::from_utf8(output.stdout).ok()?;
    (!folder.trim().is_empty()).then(|| PathBuf::from(folder.trim()))
}

/// Where Debian and Ubuntu put the programs: a folder for each major version.
fn packaged_folders() -> Vec<PathBuf> {
    let mut versions: Vec<u32> = fs::read_dir("/usr/lib/postgresql")
        .into_iter()
        .flatten()
        .filter_map(|entry| entry.ok()?.file_name().to_str()?.parse().ok())
        .collect();
    versions.sort_unstable_by(|a, b| b.cmp(a));
    versions.iter().map(|v| PathBuf::from(format!("/usr/lib/postgresql/{v}/bin"))).collect()
}

#[cfg(test)]
mod tests {
    use super::major_of;

    /// The first banner was read from Debian 12's `postgres --version`; the others from memory.
    #[test]
    fn the_major_version_is_read_from_the_banner() {
        assert_eq!(major_of("postgres (PostgreSQL) 15.14 (Debian 15.14-0+deb12u1)\n"), Some(15));
        assert_eq!(major_of("postgres (PostgreSQL) 17.5\n"), Some(17));
        assert_eq!(major_of("postgres (PostgreSQL) 18beta1\n"), Some(18));
        assert_eq!(major_of("command not found"), None);
        assert_eq!(major_of(""), None);
    }
}
