//! `parings review`: what stands out in a sheet of nights, without a server or a database.

mod sheet;
mod tell;

use std::fs::File;
use std::io::{self, BufWriter, Read, Write};
use std::path::{Path, PathBuf};

use anyhow::Context;
use clap::{Args, ValueEnum};
use parings_core::calendar::{BusinessDate, DateSpan};
use parings_core::review::{Detector, Finding, Look, Measure, Sheet, UnitCost};
use rust_decimal::Decimal;
use rust_decimal::prelude::ToPrimitive;

use sheet::Read as SheetRead;

/// A sheet has a row for every store's night. Columns are found by their headers, in any order:
/// store and business_date (YYYY-MM-DD); district, format, portions, sales, usage_theoretical_kg,
/// usage_actual_kg (recorded waste in it), waste_kg, raw_kg, fried_kg, tickets, tickets_over_target,
/// ticket_p50_s, ticket_p90_s; status (open, closed, short), lot, promotion, counted_by, count_nights,
/// safety_kg, usage_theoretical_night_kg (of the night alone, where use covers several), usage_first_kg (by the first revision of an amended count), count_lines and
/// count_lines_same (lines of what was sold since the count before, and those that repeat it). Others
/// are passed over. What is missing is not reviewed, and it is said.
#[derive(Debug, Args)]
pub struct Review {
    /// The sheet, a CSV file; - for standard input.
    sheet: PathBuf,
    /// The last night looked at; the last of the sheet when left out.
    #[arg(long, value_name = "DATE")]
    as_of: Option<BusinessDate>,
    /// Reviews every date from this one on.
    #[arg(long, value_name = "DATE")]
    from: Option<BusinessDate>,
    /// A page to read, or one JSON object a line for each finding.
    #[arg(long, value_enum, default_value_t)]
    format: Format,
    /// What a kilogram as purchased costs.
    #[arg(long, value_name = "MONEY", default_value = "0.90")]
    cost_per_kg: Decimal,
}

#[derive(Debug, Clone, Copy, Default, PartialEq, ValueEnum)]
enum Format {
    #[default]
    Text,
    Json,
}

impl Review {
    /// Reads the sheet, reviews it and prints what was found.
    pub fn run(self) -> anyhow::Result<()> {
        let cost = self.cost_per_kg.to_f64().and_then(UnitCost::new);
        let cost = cost.context("--cost-per-kg is below nothing")?;
        let bytes = bytes(&self.sheet)?;
        let SheetRead { sheet, notes } =
            sheet::read(&bytes, cost).with_context(|| self.sheet.display().to_string())?;
        drop(bytes);
        let span = sheet.span();
        let as_of = self.as_of.unwrap_or(span.to());
        let dates = DateSpan::new(self.from.unwrap_or(as_of), as_of)
            .context("--from lies after the last date reviewed")?;
        anyhow::ensure!(
            span.contains(dates.from()) && span.contains(dates.to()),
            "the sheet has nights from {} to {} only",
            span.from(),
            span.to()
        );
        let findings = found(&sheet, dates);
        let mut out = BufWriter::new(io::stdout().lock());
        let told = match self.format {
            Format::Text => tell::text(&mut out, &sheet, dates, &findings, &notes),
            Format::Json => {
                notes.iter().for_each(|note| eprintln!("parings: {note}"));
                tell::json(&mut out, &sheet, &findings)
            }
        };
        match told.and_then(|()| out.flush()) {
            // Whoever reads needs no more.
            Err(error) if error.kind() == io::ErrorKind::BrokenPipe => Ok(()),
            told => told.context("standard output"),
        }
    }
}

/// Looks each measure through in a thread of its own.
fn found(sheet: &Sheet, dates: DateSpan) -> Vec<Finding> {
    let detector = Detector::new(sheet);
    let looks = std::thread::scope(|scope| {
        let look = |measure: &Measure| {
            let (detector, measure) = (&detector, *measure);
            scope.spawn(move || detector.look(measure))
        };
        let threads: Vec<_> = Measure::ALL.iter().map(look).collect();
        let joined = threads.into_iter().map(|thread| match thread.join() {
            Ok(look) => look,
            Err(panic) => std::panic::resume_unwind(panic),
        });
        joined.flatten().collect::<Vec<Look>>()
    });
    detector.findings(looks, dates)
}

fn bytes(path: &Path) -> anyhow::Result<Vec<u8>> {
    let mut bytes = Vec::new();
    if path == Path::new("-") {
        io::stdin().lock().read_to_end(&mut bytes).context("standard input")?;
    } else {
        let mut file = File::open(path).with_context(|| path.display().to_string())?;
        file.read_to_end(&mut bytes).with_context(|| path.display().to_string())?;
    }
    Ok(bytes)
}
