//! Writing files: CSV and NDJSON, which an import reads, and XLSX and Parquet for spreadsheets and
//! analysts.

use std::fmt;
use std::io::Write;
use std::str::FromStr;

use anyhow::Context;
use serde_json::{Map, Value};

use super::columns::Column;
use super::parquet::Parquet;
use super::xlsx::Xlsx;
use super::{Dialect, cell, flat};
use crate::app::figures::exports::{Taken, What};

/// How a file is written.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub enum Format {
    /// Rows of cells, as an import reads them.
    #[default]
    Csv,
    /// A JSON object on each line, as an import reads them.
    Ndjson,
    /// A workbook of one sheet (ECMA-376).
    Xlsx,
    /// Columns with their types (Apache Parquet), without compression.
    Parquet,
}

impl Format {
    const ALL: [Self; 4] = [Self::Csv, Self::Ndjson, Self::Xlsx, Self::Parquet];

    /// Its word, which is the end of a file's name too.
    pub fn word(self) -> &'static str {
        match self {
            Self::Csv => "csv",
            Self::Ndjson => "ndjson",
            Self::Xlsx => "xlsx",
            Self::Parquet => "parquet",
        }
    }
}

impl fmt::Display for Format {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.word())
    }
}

impl FromStr for Format {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        let found = Self::ALL.into_iter().find(|format| format.word() == text);
        found.ok_or_else(|| {
            let words = Self::ALL.map(Self::word).join(", ");
            format!("\"{text}\" is no format: use one of {words}")
        })
    }
}

/// A file that is being written.
pub struct Writer<W: Write + Send> {
    what: What,
    columns: &'static [Column],
    out: Out<W>,
}

enum Out<W: Write + Send> {
    Csv(Box<csv::Writer<W>>, Dialect),
    Ndjson(W),
    Xlsx(Box<Xlsx<W>>),
    Parquet(Box<Parquet<W>>),
}

impl<W: Write + Send> Writer<W> {
    /// Begins a file; a table has its header at once.
    ///
    /// # Errors
    /// When it cannot be written.
    pub fn new(what: What, format: Format, dialect: Dialect, out: W) -> anyhow::Result<Self> {
        let columns = flat::columns(what);
        let out = match format {
            Format::Csv => {
                let mut csv =
                    csv::WriterBuilder::new().delimiter(dialect.separator()).from_writer(out);
                csv.write_record(columns.iter().map(|column| column.name))?;
                Out::Csv(Box::new(csv), dialect)
            }
            Format::Ndjson => Out::Ndjson(out),
            Format::Xlsx => Out::Xlsx(Box::new(Xlsx::new(what.word(), columns, out)?)),
            Format::Parquet => Out::Parquet(Box::new(Parquet::new(columns, out)?)),
        };
        Ok(Self { what, columns, out })
    }

    /// Adds a fact or a figure.
    ///
    /// # Errors
    /// When it cannot be written.
    pub fn write(&mut self, taken: &Taken) -> anyhow::Result<()> {
        if let Out::Ndjson(out) = &mut self.out {
            match flat::line(taken) {
                Some(line) => serde_json::to_writer(&mut *out, &line)?,
                None => {
                    for row in flat::rows(self.what, taken)? {
                        serde_json::to_writer(&mut *out, &members(self.columns, row))?;
                    }
                }
            }
            return out.write_all(b"\n").context("write");
        }
        for row in flat::rows(self.what, taken)? {
            match &mut self.out {
                Out::Csv(csv, dialect) => {
                    let cells = self.columns.iter().zip(&row).map(|(column, value)| {
                        let shown = |value| cell::show(column.cell, value, *dialect);
                        value.as_ref().map(shown).unwrap_or_default()
                    });
                    csv.write_record(cells)?;
                }
                Out::Xlsx(sheet) => sheet.write(&row)?,
                Out::Parquet(file) => file.write(row)?,
                Out::Ndjson(_) => {}
            }
        }
        Ok(())
    }

    /// Ends the file.
    ///
    /// # Errors
    /// When it cannot be written.
    pub fn finish(self) -> anyhow::Result<()> {
        match self.out {
            Out::Csv(mut csv, _) => Ok(csv.flush()?),
            Out::Ndjson(mut out) => Ok(out.flush()?),
            Out::Xlsx(sheet) => sheet.finish(),
            Out::Parquet(file) => file.finish(),
        }
    }
}

/// A row of figures as an object.
fn members(columns: &[Column], row: flat::Cells) -> Map<String, Value> {
    let named = columns.iter().zip(row);
    named.filter_map(|(column, value)| Some((column.name.to_owned(), value?))).collect()
}
