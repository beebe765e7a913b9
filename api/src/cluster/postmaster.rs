//! Starts the server process, watches it, and stops it.

use std::fs::{self, File};
use std::io::{self, Write};
use std::os::unix::process::CommandExt;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, ExitStatus, Stdio};
use std::time::{Duration, Instant};

use nix::errno::Errno;
use nix::sys::signal::{Signal, kill};
use nix::unistd::Pid;

use super::folder::Folder;
use super::programs::Programs;
use super::{Account, ClusterError, PORT, Settings};

/// How often a state is looked at while waiting for it.
const PAUSE: Duration = Duration::from_millis(5);
/// Replaying the log after a crash can take this long on a slow disk.
const READY_WITHIN: Duration = Duration::from_secs(300);
/// How long backends of a killed server may hold on to its memory.
const BACKENDS_GONE_WITHIN: Duration = Duration::from_secs(30);
/// How long a stop in good order may take before the server is stopped at once.
const STOP_WITHIN: Duration = Duration::from_secs(30);
/// How long an immediate stop may take.
const QUIT_WITHIN: Duration = Duration::from_secs(10);

/// The server process, a child of this one, with its watchdog.
#[derive(Debug)]
pub(super) struct Postmaster {
    server: Child,
    watchdog: Child,
}

impl Postmaster {
    /// Starts the server and waits until it accepts connections.
    pub(super) fn start(
        programs: &Programs,
        folder: &Folder,
        account: &Account,
        settings: &Settings,
    ) -> Result<Self, ClusterError> {
        let begun = Instant::now();
        loop {
            let server = spawn(programs, folder, account, settings)?;
            let watchdog = match watch(&server, account) {
                Ok(watchdog) => watchdog,
                Err(error) => {
                    end(server)?;
                    return Err(error);
                }
            };
            let mut started = Self { server, watchdog };
            let Some(failure) = started.wait_ready(folder)? else { return Ok(started) };
            started.stop()?;
            let tail = log_tail(folder);
            let old_backends = tail.contains("shared memory block");
            if !old_backends || begun.elapsed() > BACKENDS_GONE_WITHIN {
                return Err(ClusterError::NotReady { what: failure, log: folder.log(), tail });
            }
            std::thread::sleep(PAUSE * 10);
        }
    }

    /// Says what went wrong, if anything did.
    fn wait_ready(&mut self, folder: &Folder) -> Result<Option<&'static str>, ClusterError> {
        let begun = Instant::now();
        let pid = pid_of(&self.server);
        loop {
            let state = PidFile::read(&folder.postgres())?;
            if state.is_some_and(|state| state.ready && state.pid == pid) {
                return Ok(None);
            }
            if !self.is_running() {
                return Ok(Some("ended before it was ready"));
            }
            if begun.elapsed() > READY_WITHIN {
                return Ok(Some("is not ready after 300 seconds"));
            }
            std::thread::sleep(PAUSE);
        }
    }

    pub(super) fn is_running(&mut self) -> bool {
        matches!(self.server.try_wait(), Ok(None))
    }

    /// Asks for an orderly stop (sessions are ended, nothing is lost), then for an immediate one
    /// (the next start replays the log). Does nothing when the server has ended.
    pub(super) fn stop(&mut self) -> Result<(), ClusterError> {
        stop(pid_of(&self.server), || !matches!(self.server.try_wait(), Ok(None)))?;
        self.dismiss_watchdog();
        Ok(())
    }

    /// A line tells the watchdog that all is well. It may have gone already; then there is no one
    /// to tell.
    fn dismiss_watchdog(&mut self) {
        if let Some(mut pipe) = self.watchdog.stdin.take() {
            let _ = pipe.write_all(b"\n");
        }
        let _: io::Result<ExitStatus> = self.watchdog.wait();
    }
}

/// A group of its own keeps a Ctrl-C at the terminal from reaching the server before its keeper
/// has finished with it.
fn spawn(
    programs: &Programs,
    folder: &Folder,
    account: &Account,
    settings: &Settings,
) -> Result<Child, ClusterError> {
    let log = folder.log();
    let (out, err) = File::create(&log)
        .and_then(|file| Ok((file.try_clone()?, file)))
        .and_then(|files| account.take(&log).map(|()| files))
        .map_err(|source| ClusterError::folder(&log, source))?;
    let mut command = account.command(&programs.postgres);
    command.current_dir(folder.data()).arg("-D").arg(folder.postgres());
    let fixed = [
        ("listen_addresses", String::new()),
        ("unix_socket_directories", quoted(folder.socket_dir())),
        ("unix_socket_permissions", "0700".to_owned()),
        ("port", PORT.to_string()),
        ("timezone", "UTC".to_owned()),
        ("log_timezone", "UTC".to_owned()),
    ];
    let careless = ["fsync", "synchronous_commit", "full_page_writes"];
    let careless = careless.iter().filter(|_| !settings.fsync).map(|name| (*name, "off"));
    let fixed = fixed.iter().map(|(name, value)| (*name, value.as_str()));
    let extra = settings.extra.iter().map(|(name, value)| (name.as_str(), value.as_str()));
    for (name, value) in fixed.chain(careless).chain(extra) {
        command.arg("-c").arg(format!("{name}={value}"));
    }
    command.stdin(Stdio::null()).stdout(out).stderr(err).process_group(0);
    command.spawn().map_err(|source| ClusterError::run(&programs.postgres, source))
}

/// The setting is a list: without quotes a comma in the path would end it.
fn quoted(path: &Path) -> String {
    format!("\"{}\"", path.to_string_lossy().replace('"', "\"\""))
}

/// Starts the watchdog: a shell that reads from a pipe only this process can write to. When this
/// process ends without a word the read fails, and the shell asks the server to stop in good
/// order. Unlike Linux's parent-death signal this works on every Unix, and it follows the process
/// rather than the thread that started the server.
fn watch(server: &Child, account: &Account) -> Result<Child, ClusterError> {
    let shell = Path::new("/bin/sh");
    account
        .command(shell)
        .args(["-c", "read -r all_is_well || kill -INT \"$1\"", "parings-watchdog"])
        .arg(server.id().to_string())
        .current_dir("/")
        .stdin(Stdio::piped())
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .process_group(0)
        .spawn()
        .map_err(|source| ClusterError::run(shell, source))
}

fn end(mut server: Child) -> Result<(), ClusterError> {
    stop(pid_of(&server), || !matches!(server.try_wait(), Ok(None)))
}

fn pid_of(child: &Child) -> Pid {
    Pid::from_raw(child.id().cast_signed())
}

fn log_tail(folder: &Folder) -> String {
    let text = fs::read(folder.log()).unwrap_or_default();
    let text = String::from_utf8_lossy(&text);
    let lines: Vec<&str> = text.lines().collect();
    lines[lines.len().saturating_sub(12)..].join("\n")
}

/// A server whose keeper has died: it is no child of this process.
#[derive(Debug)]
pub(super) struct Orphan {
    pid: Pid,
    postgres: PathBuf,
}

impl Orphan {
    pub(super) fn stop(&self) -> Result<(), ClusterError> {
        stop(self.pid, || !runs_in(self.pid, &self.postgres))
    }
}

/// Finds the server that still runs in the cluster's folder, if one does.
///
/// A pid file left by a server that is gone stays: PostgreSQL checks by it that no backend still
/// holds the old shared memory. But when some other process has its number by now PostgreSQL
/// would refuse to start; then the number becomes that of this process, the server's parent to
/// be, which PostgreSQL knows cannot be another server.
pub(super) fn orphan(postgres: &Path) -> Result<Option<Orphan>, ClusterError> {
    let Some(PidFile { pid, .. }) = PidFile::read(postgres)? else { return Ok(None) };
    if runs_in(pid, postgres) {
        return Ok(Some(Orphan { pid, postgres: postgres.to_owned() }));
    }
    if is_alive(pid) {
        PidFile::replace_pid(postgres, std::process::id())?;
    }
    Ok(None)
}

fn is_alive(pid: Pid) -> bool {
    !matches!(kill(pid, None), Err(Errno::ESRCH))
}

/// Whether `pid` is a server of this cluster: its working folder is the cluster's. Where there is
/// no `/proc`, its command line names the folder.
fn runs_in(pid: Pid, postgres: &Path) -> bool {
    if !is_alive(pid) {
        return false;
    }
    if Path::new("/proc/self/cwd").exists() {
        let working = fs::read_link(format!("/proc/{pid}/cwd"));
        return working.is_ok_and(|working| {
            fs::canonicalize(postgres).is_ok_and(|postgres| working == postgres)
        });
    }
    let listed = Command::new("ps").args(["-o", "args=", "-p", &pid.to_string()]).output();
    listed.is_ok_and(|listed| {
        String::from_utf8_lossy(&listed.stdout).contains(&*postgres.to_string_lossy())
    })
}

/// Signals `pid` until `gone` says so: SIGINT first, SIGQUIT after a bound.
fn stop(pid: Pid, mut gone: impl FnMut() -> bool) -> Result<(), ClusterError> {
    for (signal, bound) in [(Signal::SIGINT, STOP_WITHIN), (Signal::SIGQUIT, QUIT_WITHIN)] {
        if gone() {
            return Ok(());
        }
        // A process that is gone meanwhile cannot be signalled; the loop sees that it is gone.
        let _ = kill(pid, signal);
        let begun = Instant::now();
        while begun.elapsed() < bound {
            if gone() {
                return Ok(());
            }
            std::thread::sleep(PAUSE);
        }
    }
    Err(ClusterError::WillNotStop { pid: pid.as_raw() })
}

/// What the server writes about itself: its process number on the first line, and on the eighth
/// whether it accepts connections.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct PidFile {
    pid: Pid,
    ready: bool,
}

impl PidFile {
    const NAME: &str = "postmaster.pid";

    fn read(postgres: &Path) -> Result<Option<Self>, ClusterError> {
        let path = postgres.join(Self::NAME);
        match fs::read_to_string(&path) {
            Ok(text) => Ok(Self::parse(&text)),
            Err(error) if error.kind() == io::ErrorKind::NotFound => Ok(None),
            Err(source) => Err(ClusterError::folder(&path, source)),
        }
    }

    fn replace_pid(postgres: &Path, pid: u32) -> Result<(), ClusterError> {
        let path = postgres.join(Self::NAME);
        let replace = |text: String| {
            let rest = text.split_once('\n').map_or("", |(_, rest)| rest);
            fs::write(&path, format!("{pid}\n{rest}"))
        };
        fs::read_to_string(&path)
            .and_then(replace)
            .map_err(|source| ClusterError::folder(&path, source))
    }

    fn parse(text: &str) -> Option<Self> {
        let pid = text.lines().next()?.trim().parse().ok()?;
        let ready = text.lines().nth(7).is_some_and(|line| line.trim() == "ready");
        (pid > 0).then_some(Self { pid: Pid::from_raw(pid), ready })
    }
}

#[cfg(test)]
mod tests {
    use nix::unistd::Pid;

    use super::PidFile;

    /// The layout was read from a running PostgreSQL 15's `postmaster.pid`.
    #[test]
    fn the_eighth_line_says_ready() {
        let text = "4711\n/srv/parings/postgres\n1700000000\n5499\n/srv/parings/socket\n\n  \
                    1234567    65538\nready   \n";
        let pid = Pid::from_raw(4711);
        assert_eq!(PidFile::parse(text), Some(PidFile { pid, ready: true }));
        let text = text.replace("ready   ", "starting");
        assert_eq!(PidFile::parse(&text), Some(PidFile { pid, ready: false }));
    }

    #[test]
    fn half_a_pid_file_says_nothing() {
        for text in ["", "\n", "-5\n", "0\n", "postgres\n"] {
            assert_eq!(PidFile::parse(text), None, "{text:?}");
        }
    }
}
