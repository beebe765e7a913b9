//! Apache Parquet: columns with their types. Texts and lists are strings, dates and instants
//! themselves, decimals doubles.

use std::io::Write;
use std::sync::Arc;

use anyhow::Context;
use chrono::{DateTime, NaiveDate};
use parquet::basic::{LogicalType, Repetition, TimeUnit, Type as Physical};
use parquet::data_type::{BoolType, ByteArray, ByteArrayType, DoubleType, Int32Type, Int64Type};
use parquet::file::properties::WriterProperties;
use parquet::file::writer::SerializedFileWriter;
use parquet::schema::types::Type;
use serde_json::Value;

use super::columns::{Cell, Column};
use super::xlsx::number;
use super::{Dialect, cell, flat};

/// Rows that are kept until they are written together.
const GROUP: usize = 50_000;

/// A file that is being written.
pub struct Parquet<W: Write + Send> {
    file: SerializedFileWriter<W>,
    columns: &'static [Column],
    rows: Vec<flat::Cells>,
}

fn field(column: &Column) -> anyhow::Result<Arc<Type>> {
    let (physical, logical) = match column.cell {
        Cell::Date => (Physical::INT32, Some(LogicalType::Date)),
        Cell::Instant => (Physical::INT64, Some(LogicalType::timestamp(true, TimeUnit::MICROS))),
        Cell::Number => (Physical::DOUBLE, None),
        Cell::Whole => (Physical::INT64, None),
        Cell::YesNo => (Physical::BOOLEAN, None),
        Cell::Text | Cell::Id | Cell::List(_) => (Physical::BYTE_ARRAY, Some(LogicalType::String)),
    };
    let field = Type::primitive_type_builder(column.name, physical)
        .with_repetition(Repetition::OPTIONAL)
        .with_logical_type(logical);
    Ok(Arc::new(field.build()?))
}

impl<W: Write + Send> Parquet<W> {
    /// Begins a file with the columns that it is to have.
    ///
    /// # Errors
    /// When it cannot be written.
    pub fn new(columns: &'static [Column], out: W) -> anyhow::Result<Self> {
        let fields = columns.iter().map(field).collect::<Result<Vec<_>, _>>()?;
        let schema = Type::group_type_builder("rows").with_fields(fields).build()?;
        let properties = Arc::new(WriterProperties::builder().build());
        let file = SerializedFileWriter::new(out, Arc::new(schema), properties)?;
        Ok(Self { file, columns, rows: Vec::new() })
    }

    /// Adds a row.
    ///
    /// # Errors
    /// When it cannot be written.
    pub fn write(&mut self, row: flat::Cells) -> anyhow::Result<()> {
        self.rows.push(row);
        if self.rows.len() >= GROUP { self.group() } else { Ok(()) }
    }

    /// Ends the file.
    ///
    /// # Errors
    /// When it cannot be written.
    pub fn finish(mut self) -> anyhow::Result<()> {
        if !self.rows.is_empty() {
            self.group()?;
        }
        self.file.close().map(|_| ()).context("write")
    }

    /// Writes the rows that are kept, column by column.
    fn group(&mut self) -> anyhow::Result<()> {
        let rows = std::mem::take(&mut self.rows);
        let mut group = self.file.next_row_group()?;
        for (n, column) in self.columns.iter().enumerate() {
            let cells = || rows.iter().map(|row| row[n].as_ref());
            let filled: Vec<i16> = cells().map(|cell| i16::from(cell.is_some())).collect();
            let values = || cells().flatten();
            let levels = Some(filled.as_slice());
            let mut to = group.next_column()?.context("a column of the schema")?;
            match column.cell {
                Cell::Date => {
                    let days = values().map(days).collect::<Result<Vec<_>, _>>()?;
                    to.typed::<Int32Type>().write_batch(&days, levels, None)?;
                }
                Cell::Instant => {
                    let at = values().map(micros).collect::<Result<Vec<_>, _>>()?;
                    to.typed::<Int64Type>().write_batch(&at, levels, None)?;
                }
                Cell::Number => {
                    let numbers = values().map(number).collect::<Result<Vec<_>, _>>()?;
                    to.typed::<DoubleType>().write_batch(&numbers, levels, None)?;
                }
                Cell::Whole => {
                    let whole: Vec<_> = values().filter_map(Value::as_i64).collect();
                    to.typed::<Int64Type>().write_batch(&whole, levels, None)?;
                }
                Cell::YesNo => {
                    let yes: Vec<_> = values().filter_map(Value::as_bool).collect();
                    to.typed::<BoolType>().write_batch(&yes, levels, None)?;
                }
                kind @ (Cell::Text | Cell::Id | Cell::List(_)) => {
                    let text = |value: &Value| {
                        let shown = cell::show(kind, value, Dialect::Comma);
                        ByteArray::from(cell::unguarded(&shown))
                    };
                    let texts: Vec<_> = values().map(text).collect();
                    to.typed::<ByteArrayType>().write_batch(&texts, levels, None)?;
                }
            }
            to.close()?;
        }
        group.close().map(|_| ()).context("write")
    }
}

fn text(value: &Value) -> anyhow::Result<&str> {
    value.as_str().context("a text that is none")
}

/// Days since 1970.
fn days(value: &Value) -> anyhow::Result<i32> {
    let date: NaiveDate = text(value)?.parse()?;
    Ok(i32::try_from((date - NaiveDate::default()).num_days())?)
}

/// Microseconds since 1970.
fn micros(value: &Value) -> anyhow::Result<i64> {
    Ok(DateTime::parse_from_rfc3339(text(value)?)?.timestamp_micros())
}
