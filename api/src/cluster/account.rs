//! Which account the private cluster and the server run as.

use std::fs::{self, Metadata};
use std::io;
use std::os::unix::fs::{MetadataExt, chown};
use std::os::unix::process::CommandExt;
use std::path::Path;
use std::process::Command;

use nix::unistd::{Gid, Uid, User, getegid, geteuid, setgid, setuid};

use super::ClusterError;

/// An account of this machine that is not root.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Account {
    name: String,
    uid: Uid,
    gid: Gid,
}

impl Account {
    /// The account for the cluster in `data`. Whoever is not root runs it themselves. Root hands
    /// it to the owner of an existing cluster, else to `postgres`, else to `nobody`.
    ///
    /// # Errors
    /// [`ClusterError::NoAccount`] when root finds none of them.
    pub fn for_data(data: &Path) -> Result<Self, ClusterError> {
        if !geteuid().is_root() {
            let name = match User::from_uid(geteuid()) {
                Ok(Some(user)) => user.name,
                _ => geteuid().to_string(),
            };
            return Ok(Self { name, uid: geteuid(), gid: getegid() });
        }
        let owner = fs::metadata(data.join("postgres")).ok().map(|found| found.uid());
        let owner = owner.and_then(|uid| User::from_uid(Uid::from_raw(uid)).ok().flatten());
        let named = ["postgres", "nobody"].into_iter();
        owner
            .into_iter()
            .chain(named.filter_map(|name| User::from_name(name).ok().flatten()))
            .find(|user| !user.uid.is_root())
            .map(|user| Self { name: user.name, uid: user.uid, gid: user.gid })
            .ok_or(ClusterError::NoAccount)
    }

    /// The account's name.
    pub fn name(&self) -> &str {
        &self.name
    }

    /// Whether every folder on the way to `path` lets this account through, as far as the
    /// folders exist. Read from the permission bits; access lists are not looked at.
    pub fn can_reach(&self, path: &Path) -> bool {
        self.obstacle(path).is_none()
    }

    /// The first folder above `path` that this account cannot enter.
    pub(super) fn obstacle<'p>(&self, path: &'p Path) -> Option<&'p Path> {
        let mut above: Vec<&Path> = path.ancestors().skip(1).collect();
        above.reverse();
        above
            .into_iter()
            .find(|folder| fs::metadata(folder).is_ok_and(|found| !self.may_enter(&found)))
    }

    fn may_enter(&self, folder: &Metadata) -> bool {
        let bit = if folder.uid() == self.uid.as_raw() {
            0o100
        } else if folder.gid() == self.gid.as_raw() {
            0o010
        } else {
            0o001
        };
        folder.mode() & bit != 0
    }

    pub(super) fn owns(&self, found: &Metadata) -> bool {
        found.uid() == self.uid.as_raw()
    }

    /// Makes `path` this account's. Only root can give files away, and only root needs to.
    pub(super) fn take(&self, path: &Path) -> io::Result<()> {
        if geteuid().is_root() {
            chown(path, Some(self.uid.as_raw()), Some(self.gid.as_raw()))?;
        }
        Ok(())
    }

    /// A command that will run as this account, without the caller's PostgreSQL settings.
    pub(super) fn command(&self, program: &Path) -> Command {
        let mut command = Command::new(program);
        if geteuid().is_root() {
            command.uid(self.uid.as_raw()).gid(self.gid.as_raw());
        }
        for (name, _) in std::env::vars_os() {
            if name.as_encoded_bytes().starts_with(b"PG") {
                command.env_remove(name);
            }
        }
        command.env("LC_ALL", "C");
        command
    }
}

/// Gives up root for good: this process becomes `account`. Does nothing for others than root.
///
/// Call it when the cluster is up and before threads or listeners are made that need no root.
///
/// # Errors
/// [`ClusterError::Drop`] when the system refuses; the caller must then end, not go on as root.
pub fn drop_to(account: &Account) -> Result<(), ClusterError> {
    if !geteuid().is_root() {
        return Ok(());
    }
    let failed = |source: io::Error| ClusterError::Drop { account: account.name.clone(), source };
    drop_groups().map_err(failed)?;
    setgid(account.gid).map_err(|errno| failed(errno.into()))?;
    setuid(account.uid).map_err(|errno| failed(errno.into()))?;
    if setuid(Uid::from_raw(0)).is_ok() {
        return Err(failed(io::Error::other("root could be taken back")));
    }
    Ok(())
}

/// Root's further groups would stay with the process otherwise.
#[cfg(not(target_vendor = "apple"))]
fn drop_groups() -> io::Result<()> {
    Ok(nix::unistd::setgroups(&[])?)
}

/// macOS keeps group membership with the account, not with the process.
#[cfg(target_vendor = "apple")]
fn drop_groups() -> io::Result<()> {
    Ok(())
}
