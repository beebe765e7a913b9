//! `parings import`: brings files of facts in, each as a whole or not at all.

use std::path::{Path, PathBuf};
use std::{fmt, fs};

use anyhow::{Context, ensure};
use chrono::{DateTime, SecondsFormat, Utc};
use clap::Args;
use parings::app::night::loading::{Kind, Loaded};
use parings::app::office::imports::{self, FileId, Import as File, Imported, Manner, Outcome};
use parings::edge::Clock;
use parings::error::{AppError, BadRow};
use parings::files::gather::Recorded;
use parings::files::read::Declared;
use parings::files::{Dialect, Format, gather, page};
use serde::Serialize;

use super::office::{AtWork, Office};
use super::progress::Progress;
use super::serve::runtime;
use super::welcome;

/// Brings files of facts in: nights, entries, sales or tickets, as CSV or NDJSON.
#[derive(Debug, Args)]
pub struct Import {
    /// The files, which go in one after the other, each as a whole or not at all
    #[arg(value_name = "FILE", required_unless_present = "columns")]
    files: Vec<PathBuf>,
    /// What they hold [default: told by the header, or the members of the first object]
    #[arg(long)]
    kind: Option<Kind>,
    /// How CSV is written: comma (decimals with a point) or semicolon (decimals with a comma)
    #[arg(long)]
    dialect: Option<Dialect>,
    /// Looks at everything, lists every row that cannot be taken, and writes nothing
    #[arg(long)]
    dry_run: bool,
    /// Changes nights that are on record, for this reason; without it they are refused
    #[arg(long, value_name = "REASON")]
    amend: Option<String>,
    /// Says what came of it as JSON
    #[arg(long)]
    json: bool,
    /// Prints the columns of every kind of file, and ends
    #[arg(long)]
    columns: bool,
    #[command(flatten)]
    office: Office,
}

/// What came of a file.
#[derive(Debug, Serialize)]
#[serde(tag = "outcome", rename_all = "snake_case")]
enum Came {
    /// The file is recorded.
    Imported { rows: i64, stores: i64, nights: i64, from: String, to: String, left_out: usize },
    /// It went in before.
    AlreadyImported { at: DateTime<Utc>, name: String },
    /// It could go in.
    LookedAt { rows: usize, nights: usize, left_out: usize },
    /// Nothing of it is in.
    Refused { total: usize, rows: Vec<BadRow> },
    /// It was not tried.
    NotTried,
}

#[derive(Debug, Serialize)]
struct Report {
    file: String,
    #[serde(flatten)]
    came: Came,
}

impl Import {
    /// Brings them in, and fails when one could not be.
    pub fn run(self) -> anyhow::Result<()> {
        if self.columns {
            welcome::say(page::page().trim_end());
            return Ok(());
        }
        let reports = runtime()?.block_on(self.all())?;
        if self.json {
            welcome::say(&serde_json::to_string_pretty(&reports)?);
        } else {
            let said: Vec<_> = reports.iter().map(Report::to_string).collect();
            welcome::say(&said.join("\n"));
        }
        let bad = reports.iter().filter(|report| matches!(report.came, Came::Refused { .. }));
        let bad: Vec<_> = bad.map(|report| report.file.as_str()).collect();
        let next = match self.dry_run {
            true => "nothing was written",
            false => "correct it and run this again: files that are in are passed over",
        };
        ensure!(bad.is_empty(), "{} cannot go in; {next}", bad.join(", "));
        Ok(())
    }

    /// One file after the other. A dry run looks at all of them, else the first that cannot go in
    /// is the last that is tried.
    async fn all(&self) -> anyhow::Result<Vec<Report>> {
        let at_work = self.office.begin().await?;
        let mut reports = Vec::new();
        let mut stopped = false;
        for path in &self.files {
            let file = path.display().to_string();
            let came = match stopped {
                true => Came::NotTried,
                false => self.one(&at_work, path).await.with_context(|| file.clone())?,
            };
            stopped |= !self.dry_run && matches!(came, Came::Refused { .. });
            reports.push(Report { file, came });
        }
        Ok(reports)
    }

    async fn one(&self, at_work: &AtWork, path: &Path) -> anyhow::Result<Came> {
        let AtWork { deps, caller, owner_url } = at_work;
        let mut progress = Progress::new(vec!["read", "import"]);
        progress.begin("read");
        let bytes = fs::read(path)?;
        let file = FileId::of(&bytes);
        if let Some(before) = imports::find(deps, caller, file).await.map_err(plain)? {
            progress.finish();
            return Ok(before.into());
        }
        let ending = path.extension().and_then(|ending| ending.to_str());
        let format = match ending {
            Some("csv") => Some(Format::Csv),
            Some("ndjson" | "jsonl") => Some(Format::Ndjson),
            _ => None,
        };
        let known = Declared { file: file.id, kind: self.kind, format, dialect: self.dialect };
        let read = match gather::file(&bytes, known) {
            Ok(read) => read,
            Err(broken) => {
                let bad = broken.whole(deps, caller, file, self.amend.as_deref()).await;
                let bad = bad.map_err(plain)?;
                progress.finish();
                return Ok(Came::Refused { total: bad.total, rows: bad.rows });
            }
        };
        let now = Clock::Machine.now();
        let name = path.file_name().unwrap_or(path.as_os_str()).to_string_lossy().into_owned();
        let manner = Manner { dry_run: self.dry_run, amend: self.amend.as_deref() };
        let recorded = Recorded { by: caller.person, at: now, amend: manner.amend };
        let (kind, rows, stores) = (read.kind, read.rows, read.facts(file.id, recorded));
        let import = File { file, name, kind, rows, stores };
        if let Some(owner) = owner_url.as_ref().filter(|_| !self.dry_run) {
            imports::make_place(owner, &import, now).await?;
        }
        progress.begin("import");
        let (mut done, of) = (0, read.nights.len());
        let step = |nights| {
            done += nights;
            progress.part(done, of);
        };
        let tell = |refused: &[_]| read.refused(refused).into();
        let came = imports::run(deps, caller, import, manner, tell, step).await;
        progress.finish();
        match came {
            Ok(Outcome::Before(before)) => Ok(before.into()),
            Ok(Outcome::Done(imported, loaded)) => Ok(Came::done(&imported, &loaded)),
            Ok(Outcome::Looked(loaded)) => {
                let Loaded { nights, left_out, .. } = loaded;
                Ok(Came::LookedAt { rows, nights, left_out })
            }
            Err(AppError::BadRows { rows, total }) => Ok(Came::Refused { total, rows }),
            Err(other) => Err(plain(other)),
        }
    }
}

impl Came {
    fn done(imported: &Imported, loaded: &Loaded) -> Self {
        Self::Imported {
            rows: imported.rows,
            stores: imported.stores,
            nights: imported.nights,
            from: imported.first.to_string(),
            to: imported.last.to_string(),
            left_out: loaded.left_out,
        }
    }
}

impl From<Imported> for Came {
    fn from(before: Imported) -> Self {
        Self::AlreadyImported { at: before.at, name: before.name }
    }
}

impl fmt::Display for Report {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let file = &self.file;
        match &self.came {
            Came::Imported { rows, stores, nights, from, to, left_out } => write!(
                f,
                "{file}: in: {}, {} of {}, {from} to {to}{}",
                counted(*rows, "row"),
                counted(*nights, "night"),
                counted(*stores, "store"),
                doubted(*left_out)
            ),
            Came::AlreadyImported { at, name } => {
                let at = at.to_rfc3339_opts(SecondsFormat::Secs, true);
                write!(f, "{file}: already imported at {at} as {name}")
            }
            Came::LookedAt { rows, nights, left_out } => write!(
                f,
                "{file}: could go in: {}, {}{}",
                counted(*rows, "row"),
                counted(*nights, "night"),
                doubted(*left_out)
            ),
            Came::NotTried => write!(f, "{file}: not tried"),
            Came::Refused { total, rows } => {
                write!(f, "{file}: not in: {} to correct", counted(*total, "place"))?;
                write!(f, "\n{:>8}  {:<15}  what is wrong", "line", "column")?;
                for BadRow { line, column, says } in rows {
                    write!(f, "\n{line:>8}  {:<15}  {says}", column.as_deref().unwrap_or("-"))?;
                }
                if rows.len() < *total {
                    write!(f, "\n{:>8}  {:<15}  {} more", "", "", total - rows.len())?;
                }
                Ok(())
            }
        }
    }
}

fn counted(count: impl fmt::Display, one: &str) -> String {
    let count = count.to_string();
    let many = if count == "1" { "" } else { "s" };
    format!("{count} {one}{many}")
}

fn doubted(left_out: usize) -> String {
    match left_out {
        0 => String::new(),
        1 => "; 1 count of an item is left out for a doubt".to_owned(),
        some => format!("; {some} counts of items are left out for a doubt"),
    }
}

/// The operator may see the cause, which an HTTP answer would not tell.
pub fn plain(error: AppError) -> anyhow::Error {
    match error {
        AppError::Internal(cause) => cause,
        other => other.into(),
    }
}
