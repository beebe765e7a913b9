//! Reading a whole file, CSV or NDJSON: every row, and everything that is wrong.

use serde_json::{Map, Value};
use uuid::Uuid;

use super::cell;
use super::columns::{Column, FIRST, Shape};
use super::rows::{self, Row};
use super::suggest::nearest;
use super::table::{self, Record, Records};
use super::{BadRows, Dialect, Format, Kind};
use crate::http::faults::Faults;
use crate::http::nul;

/// What is known of a file beside what it holds.
#[derive(Debug, Clone, Copy)]
pub struct Declared {
    /// Its id, which ids of entries without one are made from.
    pub file: Uuid,
    /// What it holds; told by the header or the members if it is not said.
    pub kind: Option<Kind>,
    /// How it is written; told by the first character if it is not said.
    pub format: Option<Format>,
    /// How its CSV is written; commas if it is not said, and nothing else is guessed.
    pub dialect: Option<Dialect>,
}

/// Reads a file; `take` is given row after row, and `bad` what is wrong. Answers with nothing when no
/// row of it can be read.
pub fn read(
    bytes: &[u8],
    known: Declared,
    bad: &mut BadRows,
    take: impl FnMut(Row),
) -> Option<(Kind, Format)> {
    whole(bytes, known, bad, take).map_err(|fault| bad.extend(fault)).ok()
}

fn whole(
    bytes: &[u8],
    known: Declared,
    bad: &mut BadRows,
    mut take: impl FnMut(Row),
) -> Result<(Kind, Format), BadRows> {
    let text = table::text(bytes)?;
    if text.trim().is_empty() {
        return Err(BadRows::one(1, None, "the file is empty"));
    }
    let object = text.trim_start().starts_with('{');
    let format = known.format.unwrap_or(if object { Format::Ndjson } else { Format::Csv });
    let mut rows = 0;
    let mut counting = |row| {
        rows += 1;
        take(row);
    };
    let kind = match format {
        Format::Csv => csv(text, known, bad, &mut counting)?,
        Format::Ndjson => ndjson(text, known, bad, &mut counting)?,
    };
    if rows == 0 && bad.total == 0 {
        bad.add(1, None, "there is a header and nothing below it");
    }
    Ok((kind, format))
}

fn csv(
    text: &str,
    known: Declared,
    bad: &mut BadRows,
    take: &mut impl FnMut(Row),
) -> Result<Kind, BadRows> {
    let dialect = declared(text, known.dialect)?;
    let mut records = Records::new(text, dialect);
    let header = match records.next() {
        Some(Ok(header)) => header,
        Some(Err((line, says))) => return Err(BadRows::one(line, None, says)),
        None => return Err(BadRows::one(1, None, "the file is empty")),
    };
    let (kind, columns) = columns(&header, known.kind)?;
    let sheet = Sheet { kind, dialect, file: known.file, columns };
    for record in records {
        match record {
            Ok(record) => {
                if let Some(row) = sheet.row(&record, bad) {
                    take(row);
                }
            }
            Err((line, says)) => bad.add(line, None, says),
        }
    }
    Ok(kind)
}

/// The dialect that was declared, if the header does not show another.
fn declared(text: &str, dialect: Option<Dialect>) -> Result<Dialect, BadRows> {
    let header = text.lines().find(|line| !line.is_empty()).unwrap_or_default();
    let is = |c: char| header.contains(c);
    let says = match dialect {
        None if is(';') && !is(',') => {
            "the header has semicolons between its names: declare the dialect semicolon, in which \
             decimals have a comma"
        }
        Some(Dialect::Semicolon) if is(',') && !is(';') => {
            "the dialect semicolon is declared, and the header has commas between its names"
        }
        Some(Dialect::Comma) if is(';') && !is(',') => {
            "the dialect comma is declared, and the header has semicolons between its names"
        }
        _ if is('\t') && !is(',') && !is(';') => {
            "the header has tabs between its names: save the file with commas or semicolons"
        }
        _ => return Ok(dialect.unwrap_or_default()),
    };
    Err(BadRows::one(1, None, says))
}

/// The columns of a header.
fn columns(header: &Record, kind: Option<Kind>) -> Result<(Kind, Vec<&'static Column>), BadRows> {
    let names = || header.cells.iter().map(|name| name.trim());
    let kind = kind.or_else(|| Kind::by_header(names())).ok_or_else(|| {
        let says = "the header tells no kind of file: say which it is, nights, entries, sales or \
                    tickets";
        BadRows::one(header.line, None, says)
    })?;
    let mut bad = BadRows::default();
    let mut found: Vec<&'static Column> = Vec::new();
    for name in names() {
        match kind.column(name) {
            Some(column) if found.contains(&column) => {
                bad.add(header.line, Some(name), format!("the column {name} stands twice"));
            }
            Some(column) => found.push(column),
            None => {
                let near = nearest(name, kind.columns().iter().map(|column| column.name));
                let near = near.map(|near| format!("; did you mean {near}?")).unwrap_or_default();
                let says = format!("\"{name}\" is no column of {kind}{near}");
                bad.add(header.line, Some(name), says);
            }
        }
    }
    for name in FIRST.into_iter().chain(kind.told_by()) {
        if !found.iter().any(|column| column.name == name) {
            bad.add(header.line, Some(name), format!("the column {name} is missing"));
        }
    }
    if bad.total == 0 { Ok((kind, found)) } else { Err(bad) }
}

/// What the rows of a CSV file are read by.
struct Sheet {
    kind: Kind,
    dialect: Dialect,
    file: Uuid,
    columns: Vec<&'static Column>,
}

impl Sheet {
    fn row(&self, record: &Record, bad: &mut BadRows) -> Option<Row> {
        let (cells, expected) = (record.cells.len(), self.columns.len());
        if cells != expected {
            let column = self.columns.get(cells).map(|column| column.name);
            let separator = char::from(self.dialect.separator());
            let says = format!(
                "the row has {cells} cells, the header {expected}: a cell with a \"{separator}\" in \
                 it stands in quotation marks"
            );
            bad.add(record.line, column, says);
            return None;
        }
        let filled = || {
            let cells = record.cells.iter().map(|cell| cell.trim());
            self.columns.iter().copied().zip(cells).filter(|(_, cell)| !cell.is_empty())
        };
        let told_by = self.kind.told_by();
        let word = told_by
            .map(|by| filled().find(|(column, _)| column.name == by).map_or("", |(_, cell)| cell));
        let Some(shape) = self.kind.shape(word.unwrap_or_default()) else {
            let words: Vec<_> = self.kind.shapes().iter().map(|shape| shape.word).collect();
            let says = format!("\"{}\" is none of {}", word.unwrap_or_default(), words.join(", "));
            bad.add(record.line, told_by, says);
            return None;
        };
        let before = bad.total;
        let mut object = Map::new();
        for (column, cell) in filled() {
            if told_by == Some(column.name) {
                // Of entries it is a member as well.
                if self.kind == Kind::Entries {
                    object.insert(column.name.to_owned(), cell.into());
                }
                continue;
            }
            let at = match shape.uses(column.name) {
                Some(used) => used.at.to_owned(),
                None if FIRST.contains(&column.name) => format!("/{}", column.name),
                None => {
                    let says = format!("a row that is {} has no {}", shape.word, column.name);
                    bad.add(record.line, Some(column.name), says);
                    continue;
                }
            };
            match cell::read(column.cell, cell, self.dialect) {
                Ok(value) => put(&mut object, &at, value),
                Err(says) => bad.add(record.line, Some(column.name), says),
            }
        }
        for used in shape.uses.iter().filter(|used| used.needed) {
            if !filled().any(|(column, _)| column.name == used.column) {
                bad.add(record.line, Some(used.column), "this must be said");
            }
        }
        if object.get("when").and_then(Value::as_object).is_some_and(|when| when.len() > 1) {
            let says = "say the daypart or when it was sold, not both";
            bad.add(record.line, Some("sold_at"), says);
        }
        if bad.total > before {
            return None;
        }
        let mut faults = Faults::default();
        let row = rows::read(self.kind, word, self.file, record.line, object, &mut faults);
        for fault in faults.found() {
            bad.add(record.line, Some(column_of(shape, &fault.pointer)), &fault.detail);
        }
        row
    }
}

/// The column of a place in a row's object.
fn column_of<'a>(shape: &Shape, pointer: &'a str) -> &'a str {
    shape.column_at(pointer).unwrap_or_else(|| pointer.trim_start_matches('/'))
}

/// Puts a value at a pointer of members, which are made where they are missing.
fn put(object: &mut Map<String, Value>, at: &str, value: Value) {
    let at = at.trim_start_matches('/');
    match at.split_once('/') {
        None => drop(object.insert(at.to_owned(), value)),
        Some((member, rest)) => {
            let inner = object.entry(member).or_insert_with(|| Map::new().into());
            if let Some(inner) = inner.as_object_mut() {
                put(inner, rest, value);
            }
        }
    }
}

fn ndjson(
    text: &str,
    known: Declared,
    bad: &mut BadRows,
    take: &mut impl FnMut(Row),
) -> Result<Kind, BadRows> {
    let mut kind = known.kind;
    for (line, text) in (1..).zip(text.lines()).filter(|(_, text)| !text.trim().is_empty()) {
        if nul::in_json(text.as_bytes()) {
            bad.add(line, None, nul::SAYS);
            continue;
        }
        let object: Map<String, Value> = match serde_json::from_str(text) {
            Ok(object) => object,
            Err(error) => {
                let says = error.to_string();
                let says = says.split(" at line ").next().unwrap_or_default();
                bad.add(line, None, format!("this is no JSON object: {says}"));
                continue;
            }
        };
        kind = kind.or_else(|| Kind::by_members(&object));
        let Some(kind) = kind else {
            let says = "the first object tells no kind of file: say which it is, nights, entries, \
                        sales or tickets";
            return Err(BadRows::one(line, None, says));
        };
        let mut faults = Faults::default();
        let row = rows::read(kind, None, known.file, line, object, &mut faults);
        for fault in faults.found() {
            bad.add(line, Some(&fault.pointer), &fault.detail);
        }
        if let Some(row) = row {
            take(row);
        }
    }
    kind.ok_or_else(BadRows::default)
}
