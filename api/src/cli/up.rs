//! `parings up`: a private database, its schema, and the server, in one process.

use std::fs::OpenOptions;
use std::io::{self, IsTerminal};
use std::os::unix::fs::OpenOptionsExt;
use std::path::{Path, PathBuf};

use anyhow::Context;
use clap::Args;
use file_rotate::compression::Compression;
use file_rotate::suffix::AppendCount;
use file_rotate::{ContentLimit, FileRotate};
use parings::app::office::operator;
use parings::cluster::Keeper;
use parings::edge::Clock;
use parings::{boot, demo, telemetry};

use super::machine::{self, Machine, default_data, load_demo};
use super::migrate::{self, migrate};
use super::progress::Progress;
use super::serve::{Listening, config, runtime, stop_signal, until_stopped};
use super::welcome::{self, Welcome};

/// Everything on this machine: a private database, its schema, and the server.
#[derive(Debug, Args)]
pub struct Up {
    /// Where the data lives [default: ./.parings, or /var/lib/parings when the database's account
    /// cannot reach that]
    #[arg(long, value_name = "DIR", env = "PARINGS_DATA")]
    data: Option<PathBuf>,
    /// Leaves an empty network empty: no demo
    #[arg(long)]
    empty: bool,
    #[command(flatten)]
    listening: Listening,
}

impl Up {
    /// Takes the port and starts the cluster, then gives up root, then makes the runtime.
    pub fn run(self) -> anyhow::Result<()> {
        let data = self.data.map_or_else(default_data, Ok)?;
        let listening = self.listening;
        let listener = listening.listen()?;
        let after = ["demo", "weeks", "serve"];
        let mut progress = Progress::new([&machine::STEPS[..], &migrate::STEPS, &after].concat());
        let Machine { cluster, data, owner_url, read_url, app_url } =
            Machine::start(data, &mut progress)?;
        let log = start_log(&data)?;
        let keeper = Keeper::of(cluster);
        let config = config(app_url, &data, &listening);
        let served = runtime()?.block_on(async {
            migrate(&owner_url, &Clock::Machine, &mut progress).await?;
            let deps = boot::deps(config, Clock::Machine)?;
            if !self.empty {
                let size = demo::Size::default();
                load_demo(&deps, &owner_url, &data, size, &mut progress).await?;
            }
            progress.begin("serve");
            let built = boot::build_on(deps, listener)?;
            progress.finish();
            let welcome = Welcome {
                site: listening.site(built.port),
                data: &data,
                log: log.as_deref(),
                somebody: operator::is_anybody_there(&owner_url).await?,
                last_night: operator::last_night(&read_url).await?,
            };
            let asked = stop_signal();
            welcome::say(&welcome.text()?);
            let stop = async {
                asked.await;
                welcome::say("stopping");
            };
            until_stopped(built, Some(owner_url), stop).await
        });
        keeper.stop()?;
        served
    }
}

/// A log as long as this goes on in a new file: some days of a busy chain.
const LONGEST_LOG: usize = 64 * 1024 * 1024;

/// Starts logging: to a file when a person reads standard error, whose name comes back then. What was
/// logged before, at the start before or in a file that had grown too long, is kept beside it.
fn start_log(data: &Path) -> anyhow::Result<Option<PathBuf>> {
    if !io::stderr().is_terminal() {
        telemetry::start();
        return Ok(None);
    }
    let log = data.join("server.log");
    let file =
        new_log(&log, LONGEST_LOG).with_context(|| format!("cannot write {}", log.display()))?;
    telemetry::start_in(file);
    Ok(Some(log))
}

fn new_log(log: &Path, longest: usize) -> io::Result<FileRotate<AppendCount>> {
    let is_there = log.exists();
    let mut options = OpenOptions::new();
    options.append(true).create(true).mode(0o600);
    // The one below would log nowhere where this fails.
    options.open(log)?;
    let one_before = AppendCount::new(1);
    let limit = ContentLimit::BytesSurpassed(longest);
    let mut file = FileRotate::new(log, one_before, limit, Compression::None, Some(options));
    if is_there {
        file.rotate()?;
    }
    Ok(file)
}

#[cfg(test)]
mod tests {
    use std::fs;
    use std::io::Write;
    use std::os::unix::fs::PermissionsExt;

    use super::new_log;

    #[test]
    fn a_log_takes_no_more_than_two_files_however_long_it_grows() {
        let folder = tempfile::tempdir().unwrap();
        let log = folder.path().join("server.log");
        for start in 0..2 {
            let mut file = new_log(&log, 1000).unwrap();
            for line in 0..500 {
                // A line is written in one piece, as the server's logging does.
                let line = format!("start {start}, line {line}\n");
                file.write_all(line.as_bytes()).unwrap();
            }
        }
        let mut files: Vec<_> = fs::read_dir(folder.path()).unwrap().map(|f| f.unwrap()).collect();
        files.sort_by_key(fs::DirEntry::file_name);
        let names: Vec<_> = files.iter().map(fs::DirEntry::file_name).collect();
        assert_eq!(names, ["server.log", "server.log.1"]);
        let whole = |line: &str| line.starts_with("start 1, line ");
        for file in files {
            let found = file.metadata().unwrap();
            assert!(found.len() < 1100, "{} bytes", found.len());
            assert_eq!(found.permissions().mode() & 0o777, 0o600);
            assert!(fs::read_to_string(file.path()).unwrap().lines().all(whole));
        }
    }

    #[test]
    fn a_log_begins_anew_at_a_start() {
        let folder = tempfile::tempdir().unwrap();
        let log = folder.path().join("server.log");
        for start in ["first", "second"] {
            writeln!(new_log(&log, 1000).unwrap(), "{start}").unwrap();
        }
        assert_eq!(fs::read_to_string(&log).unwrap(), "second\n");
        assert_eq!(fs::read_to_string(log.with_extension("log.1")).unwrap(), "first\n");
    }
}
