//! A sheet from a CSV file.

use std::collections::BTreeMap;

use anyhow::{Context, bail, ensure};
use csv::ByteRecord;
use parings_core::calendar::BusinessDate;
use parings_core::review::{
    Column, Figures, Label, Labels, Measure, Sheet, Status, StoreNight, UnitCost,
};

/// A sheet, and what its reader should know.
#[derive(Debug)]
pub struct Read {
    pub sheet: Sheet,
    pub notes: Vec<String>,
}

/// Where the columns of a file are.
struct Places {
    store: usize,
    date: usize,
    district: Option<usize>,
    format: Option<usize>,
    status: Option<usize>,
    lot: Option<usize>,
    promotion: Option<usize>,
    counted_by: Option<usize>,
    figures: Vec<(Column, usize)>,
}

/// Reads a file: commas, or semicolons with decimal commas where its header has them.
///
/// # Errors
/// With the line and column of what cannot be read.
pub fn read(bytes: &[u8], cost: UnitCost) -> anyhow::Result<Read> {
    let bytes = bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes);
    let header = bytes.split(|byte| *byte == b'\n').next().unwrap_or_default();
    let semicolons = header.contains(&b';') && !header.contains(&b',');
    let mut reader = csv::ReaderBuilder::new()
        .delimiter(if semicolons { b';' } else { b',' })
        .from_reader(bytes);
    let header = reader.byte_headers().context("the header cannot be read")?;
    let (places, columns) = (Places::find(header)?, header.len());
    let labels = Labels::default();
    let mut rows = Rows { places: &places, semicolons, labels, last: vec![None; columns] };
    let mut nights = Vec::with_capacity(bytes.len() / 100);
    let mut record = ByteRecord::new();
    while reader.read_byte_record(&mut record).context("the file is no CSV")? {
        let line = record.position().map_or(0, csv::Position::line);
        nights.push(rows.row(&record).with_context(|| format!("line {line}"))?);
    }
    let sheet = Sheet::new(rows.labels, cost, &nights)?;
    let notes = places.notes(&sheet);
    Ok(Read { sheet, notes })
}

impl Places {
    fn find(header: &ByteRecord) -> anyhow::Result<Self> {
        let mut by_name: BTreeMap<String, usize> = BTreeMap::new();
        for (at, name) in header.iter().enumerate() {
            let name = String::from_utf8_lossy(name).trim().to_ascii_lowercase();
            if let Some(before) = by_name.insert(name.clone(), at) {
                bail!("the columns {} and {} are both called \"{name}\"", before + 1, at + 1);
            }
        }
        let place = |name: &str| by_name.get(name).copied();
        let needed = |name: &str| {
            place(name).with_context(|| format!("the header has no column \"{name}\""))
        };
        let figure = |column: &Column| Some((*column, place(column.header())?));
        Ok(Self {
            store: needed("store")?,
            date: needed("business_date")?,
            district: place("district"),
            format: place("format"),
            status: place("status"),
            lot: place("lot"),
            promotion: place("promotion"),
            counted_by: place("counted_by"),
            figures: Column::ALL.iter().filter_map(figure).collect(),
        })
    }

    /// What is not reviewed, and what is taken to be alike, for want of columns.
    fn notes(&self, sheet: &Sheet) -> Vec<String> {
        let mut notes = Vec::new();
        for measure in Measure::RATIOS {
            let lacks: Vec<&str> = measure
                .columns()
                .into_iter()
                .filter(|column| !sheet.has(*column))
                .map(Column::header)
                .collect();
            if *measure == Measure::Waste && sheet.has(Column::Wasted) && !lacks.is_empty() {
                notes.push(format!(
                    "recorded waste is compared over portions or sales: {} is missing",
                    lacks.join(", ")
                ));
            } else if !lacks.is_empty() {
                let lacks = lacks.join(" and ");
                notes.push(format!("{} is not reviewed: {lacks} missing", measure.word()));
            }
        }
        for (place, what) in [
            (self.district, "no district: all stores are taken as one"),
            (self.format, "no format: all stores are compared with each other"),
            (self.status, "no status: a night without a row is missing, not closed"),
            (self.lot, "no lot: what a poor lot does shows by district only"),
        ] {
            if place.is_none() {
                notes.push(what.to_owned());
            }
        }
        notes
    }
}

struct Rows<'a> {
    places: &'a Places,
    semicolons: bool,
    labels: Labels,
    /// What each column said last, as it was written: files are in order of store or of date.
    last: Vec<Option<(Vec<u8>, Label)>>,
}

impl Rows<'_> {
    fn row(&mut self, record: &ByteRecord) -> anyhow::Result<StoreNight> {
        let places = self.places;
        let store =
            self.label(record, Some(places.store)).context("column store: nothing there")?;
        let date = date(record.get(places.date).unwrap_or_default().trim_ascii())?;
        let status = match self.text(record, places.status)? {
            "" | "open" => Status::Open,
            "closed" => Status::Closed,
            "short" => Status::Short,
            other => bail!("column status: \"{other}\" is none: open, closed or short"),
        };
        let mut figures = Figures::default();
        for (column, at) in &places.figures {
            if let Some(figure) = self.number(record.get(*at).unwrap_or_default(), *column)? {
                figures.set(*column, figure);
            }
        }
        Ok(StoreNight {
            store,
            district: self.label_or(record, places.district, "all stores"),
            format: self.label_or(record, places.format, "store"),
            date,
            status,
            lot: self.label(record, places.lot),
            promotion: self.label(record, places.promotion).filter(|label| !self.is_no(*label)),
            counted_by: self.label(record, places.counted_by),
            figures,
        })
    }

    fn text<'r>(&self, record: &'r ByteRecord, at: Option<usize>) -> anyhow::Result<&'r str> {
        let bytes = at.and_then(|at| record.get(at)).unwrap_or_default();
        Ok(std::str::from_utf8(bytes).context("not UTF-8")?.trim())
    }

    fn label(&mut self, record: &ByteRecord, at: Option<usize>) -> Option<Label> {
        let at = at?;
        let written = record.get(at)?.trim_ascii();
        if written.is_empty() {
            return None;
        }
        if let Some((last, label)) = &self.last[at]
            && last == written
        {
            return Some(*label);
        }
        let label = self.labels.label(&String::from_utf8_lossy(written));
        self.last[at] = Some((written.to_vec(), label));
        Some(label)
    }

    fn label_or(&mut self, record: &ByteRecord, at: Option<usize>, other: &str) -> Label {
        let found = self.label(record, at);
        found.unwrap_or_else(|| self.labels.label(other))
    }

    /// Words by which files say that no promotion ran.
    fn is_no(&self, label: Label) -> bool {
        matches!(self.labels.word(label), "0" | "no" | "none" | "false" | "False" | "n")
    }

    fn number(&self, written: &[u8], column: Column) -> anyhow::Result<Option<f64>> {
        let written = written.trim_ascii();
        if written.is_empty() {
            return Ok(None);
        }
        let text = std::str::from_utf8(written).unwrap_or("\u{fffd}");
        let read = if self.semicolons { text.replace(',', ".").parse() } else { text.parse() };
        let number: f64 = read
            .ok()
            .filter(|number: &f64| number.is_finite())
            .with_context(|| format!("column {}: \"{text}\" is no number", column.header()))?;
        ensure!(
            number >= 0.0 || matches!(column, Column::Used | Column::FirstUsed),
            "column {}: below nothing",
            column.header()
        );
        Ok(Some(number))
    }
}

/// A date as `2026-06-14`, without the detours of a general reader: there is one in every row.
fn date(written: &[u8]) -> anyhow::Result<BusinessDate> {
    let number = |digits: &[u8]| {
        let digit =
            |sum: u32, byte: &u8| byte.is_ascii_digit().then(|| 10 * sum + u32::from(byte - b'0'));
        digits.iter().try_fold(0, digit)
    };
    let read = || match written {
        [year @ .., b'-', m1, m2, b'-', d1, d2] if year.len() == 4 => BusinessDate::new(
            i32::try_from(number(year)?).ok()?,
            number(&[*m1, *m2])?,
            number(&[*d1, *d2])?,
        )
        .ok(),
        _ => None,
    };
    read().with_context(|| {
        let text = String::from_utf8_lossy(written);
        format!("column business_date: \"{text}\" is no date like 2026-06-14")
    })
}

#[cfg(test)]
mod tests;
