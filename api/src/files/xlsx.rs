//! A workbook of one sheet. Its texts are texts, whatever they begin with: no formula comes of them.

use std::io::Write;

use anyhow::{Context, ensure};
use rust_decimal::prelude::ToPrimitive;
use rust_xlsxwriter::{Format, Workbook};
use serde_json::Value;

use super::columns::{Cell, Column};
use super::{Dialect, cell, flat};
use parings_core::quantity::decimal;

/// The most rows a sheet has, its header among them.
const ROWS: u32 = 1_048_576;

/// A sheet that is being filled.
pub struct Xlsx<W> {
    book: Workbook,
    columns: &'static [Column],
    next: u32,
    out: W,
}

impl<W: Write> Xlsx<W> {
    /// Begins a sheet with its header, which stays in sight.
    ///
    /// # Errors
    /// When the name is none of a sheet's.
    pub fn new(name: &str, columns: &'static [Column], out: W) -> anyhow::Result<Self> {
        let mut book = Workbook::new();
        let sheet = book.add_worksheet();
        sheet.set_name(name)?.set_freeze_panes(1, 0)?;
        let bold = Format::new().set_bold();
        for (n, column) in columns.iter().enumerate() {
            sheet.write_string_with_format(0, u16::try_from(n)?, column.name, &bold)?;
        }
        Ok(Self { book, columns, next: 1, out })
    }

    /// Adds a row.
    ///
    /// # Errors
    /// When the sheet is full.
    pub fn write(&mut self, row: &flat::Cells) -> anyhow::Result<()> {
        ensure!(self.next < ROWS, "a sheet has {ROWS} rows at most: take a shorter span, or CSV");
        let sheet = self.book.worksheet_from_index(0)?;
        for (n, (column, value)) in self.columns.iter().zip(row).enumerate() {
            let (Some(value), n) = (value, u16::try_from(n)?) else { continue };
            match (column.cell, value) {
                (Cell::Number | Cell::Whole, value) => {
                    sheet.write_number(self.next, n, number(value)?)?;
                }
                (Cell::YesNo, Value::Bool(yes)) => {
                    sheet.write_boolean(self.next, n, *yes)?;
                }
                (Cell::Text, Value::String(text)) => {
                    sheet.write_string(self.next, n, text)?;
                }
                (kind, value) => {
                    let shown = cell::show(kind, value, Dialect::Comma);
                    sheet.write_string(self.next, n, cell::unguarded(&shown))?;
                }
            }
        }
        self.next += 1;
        Ok(())
    }

    /// Writes the workbook.
    ///
    /// # Errors
    /// When it cannot be written.
    pub fn finish(mut self) -> anyhow::Result<()> {
        let bytes = self.book.save_to_buffer()?;
        self.out.write_all(&bytes).context("write")?;
        Ok(self.out.flush()?)
    }
}

/// A number as spreadsheets and statistics have it. Binary fractions are near the decimal, not equal
/// to it; CSV and NDJSON keep every digit.
pub fn number(value: &Value) -> anyhow::Result<f64> {
    let exact = match value {
        Value::String(text) => decimal::parse(text)?,
        other => decimal::parse(&other.to_string())?,
    };
    exact.to_f64().context("a number that is none")
}
