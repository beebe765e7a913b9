//! `parings import`: brings files of facts in, each as a whole or not at all.

use std::fs;
use std::path::{Path, PathBuf};

use anyhow::{Context, ensure};
use chrono::{DateTime, Utc};
use clap::Args;
use parings::app::imports::{self, FileId, Import as File, Imported, Kind, Manner, Outcome};
use parings::app::loading::Loaded;
use parings::edge::Clock;
use parings::error::{AppError, BadRow};
use parings::files::gather::Recorded;
use parings::files::read::Declared;
use parings::files::{Dialect, Format, gather};
use serde::Serialize;

use super::office::{AtWork, Office};
use super::progress::Progress;
use super::serve::runtime;

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
    /// It is in.
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
            let all = Kind::ALL.map(Kind::help).join("\n");
            println!("{all}\n{NOTES}");
            return Ok(());
        }
        let reports = runtime()?.block_on(self.all())?;
        if self.json {
            println!("{}", serde_json::to_string_pretty(&reports)?);
        } else {
            reports.iter().for_each(Report::say);
        }
        let bad = reports.iter().filter(|report| matches!(report.came, Came::Refused { .. }));
        let bad: Vec<_> = bad.map(|report| report.file.as_str()).collect();
        ensure!(
            bad.is_empty(),
            "nothing of {} was written; correct it and run this again: files that are in are passed \
             over",
            bad.join(", ")
        );
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
            Err(bad) => {
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

/// What `--columns` says beside the columns.
const NOTES: &str = "\
In every kind store and business_date are needed, and columns may stand in any order or be left out.
Of nights there is one row that is night for each store and date, and a row for each line counted and
each size sold. NDJSON has one object a line, of the shapes of the API, with store and business_date.
Texts that begin with = + - @ (or a tab) are written with an apostrophe before them, so that no
spreadsheet takes them for formulas; an import takes it off again. In lists || is a | that is meant.";

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

impl Report {
    fn say(&self) {
        let file = &self.file;
        match &self.came {
            Came::Imported { rows, stores, nights, from, to, left_out } => println!(
                "{file}: in, {rows} rows: {nights} nights of {stores} stores, {from} to {to}{}",
                doubted(*left_out)
            ),
            Came::AlreadyImported { at, name } => {
                println!("{file}: already imported at {} as {name}", at.to_rfc3339());
            }
            Came::LookedAt { rows, nights, left_out } => println!(
                "{file}: could go in, {rows} rows: {nights} nights{}; nothing was written",
                doubted(*left_out)
            ),
            Came::NotTried => println!("{file}: not tried"),
            Came::Refused { total, rows } => {
                println!("{file}: not in, {total} {} to correct", plural(*total, "place"));
                println!("{:>8}  {:<15}  what is wrong", "line", "column");
                for BadRow { line, column, says } in rows {
                    println!("{line:>8}  {:<15}  {says}", column.as_deref().unwrap_or("-"));
                }
                if rows.len() < *total {
                    println!("{:>8}  {:<15}  {} more", "", "", total - rows.len());
                }
            }
        }
    }
}

fn plural(count: usize, one: &str) -> String {
    if count == 1 { one.to_owned() } else { format!("{one}s") }
}

fn doubted(left_out: usize) -> String {
    match left_out {
        0 => String::new(),
        some => format!("; {some} {} of items left out for a doubt", plural(some, "count")),
    }
}

/// The operator may see the cause, which an HTTP answer would not tell.
pub fn plain(error: AppError) -> anyhow::Error {
    match error {
        AppError::Internal(cause) => cause,
        other => other.into(),
    }
}
