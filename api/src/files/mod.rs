//! Files of facts: what `parings import` reads and `parings export` writes.
//!
//! A file is of one [`Kind`], as CSV or NDJSON. A line of NDJSON is an object of the API's own shape
//! with `store` and `business_date` beside it; a row of CSV is the same object with its members
//! spread over [`columns`]. So both are read by the wire types of the API, and everything that is
//! wrong is told with the line and the column it is at.

pub mod cell;
pub mod columns;
pub mod flat;
pub mod gather;
pub mod page;
mod parquet;
pub mod read;
mod rest;
pub mod rows;
mod suggest;
pub mod table;
#[cfg(test)]
mod tests;
pub mod write;
mod xlsx;

use std::fmt;
use std::str::FromStr;

pub use crate::app::night::loading::Kind;
use crate::error::{AppError, BadRow};

/// How a CSV file separates its cells and writes its decimals.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub enum Dialect {
    /// Commas between cells, points in decimals (RFC 4180).
    #[default]
    Comma,
    /// Semicolons between cells, commas in decimals, as spreadsheets save in much of Europe.
    Semicolon,
}

/// How a file is written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Format {
    /// Comma-separated values: a header and rows of cells.
    Csv,
    /// A JSON object on each line.
    Ndjson,
}

/// Words that name the values of a choice, for the command line.
macro_rules! words {
    ($type:ident, $what:literal: $($word:literal = $value:ident),*) => {
        impl $type {
            /// Every one of them.
            pub const ALL: &[Self] = &[$(Self::$value),*];

            /// The word for the format on the command line and in the API.
            pub fn word(self) -> &'static str {
                match self { $(Self::$value => $word),* }
            }
        }

        impl fmt::Display for $type {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str(self.word())
            }
        }

        impl FromStr for $type {
            type Err = String;

            fn from_str(text: &str) -> Result<Self, String> {
                let found = Self::ALL.iter().find(|one| one.word() == text);
                found.copied().ok_or_else(|| {
                    let words: Vec<_> = Self::ALL.iter().map(|one| one.word()).collect();
                    format!("\"{text}\" is no {}: use {}", $what, words.join(", "))
                })
            }
        }
    };
}

words!(Dialect, "dialect": "comma" = Comma, "semicolon" = Semicolon);
words!(Format, "format": "csv" = Csv, "ndjson" = Ndjson);

impl Dialect {
    /// What stands between cells.
    pub fn separator(self) -> u8 {
        match self {
            Self::Comma => b',',
            Self::Semicolon => b';',
        }
    }

    /// What stands before the fraction of a number.
    pub fn point(self) -> char {
        match self {
            Self::Comma => '.',
            Self::Semicolon => ',',
        }
    }
}

/// Most bad rows that are kept; more are counted.
pub const TOLD: usize = 1_000;

/// Everything found wrong with a file.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct BadRows {
    /// The first [`TOLD`] of them.
    pub rows: Vec<BadRow>,
    /// How many there are.
    pub total: usize,
}

impl BadRows {
    /// Adds something that is wrong in a line; beyond the first [`TOLD`] it is only counted.
    pub fn add(&mut self, line: u64, column: Option<&str>, says: impl Into<String>) {
        self.total += 1;
        if self.rows.len() < TOLD {
            let column = column.filter(|column| !column.is_empty()).map(str::to_owned);
            self.rows.push(BadRow { line, column, says: says.into() });
        }
    }

    /// Those of another list.
    pub fn extend(&mut self, other: Self) {
        let untold = other.total - other.rows.len();
        for row in other.rows {
            self.add(row.line, row.column.as_deref(), row.says);
        }
        self.total += untold;
    }

    /// Only one thing, about one line.
    pub fn one(line: u64, column: Option<&str>, says: impl Into<String>) -> Self {
        let mut one = Self::default();
        one.add(line, column, says);
        one
    }

    /// In order of lines.
    pub fn sorted(mut self) -> Self {
        self.rows.sort();
        self
    }
}

impl From<BadRows> for AppError {
    fn from(bad: BadRows) -> Self {
        Self::BadRows { rows: bad.rows, total: bad.total }
    }
}
