//! Files of facts: what `parings import` reads and `parings export` writes.
//!
//! A file is of one [`Kind`], as CSV or NDJSON. A line of NDJSON is an object of the API's own shape
//! with `store` and `business_date` beside it; a row of CSV is the same object with its members
//! spread over [`columns`]. So both are read by the wire types of the API, and everything that is
//! wrong is told with the line and the column it is at.

pub mod cell;
pub mod columns;
pub mod gather;
pub mod read;
pub mod rows;
mod suggest;
pub mod table;
#[cfg(test)]
mod tests;

use std::fmt;
use std::str::FromStr;

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

/// What a file holds.
#[derive(
    Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, ToSchema,
)]
#[serde(rename_all = "snake_case")]
pub enum Kind {
    /// Closing counts of nights, with the units sold and net sales that stand in them.
    Nights,
    /// What was recorded through the day.
    Entries,
    /// What was sold, by the till's codes.
    Sales,
    /// Orders and how long they took.
    Tickets,
}

/// How a CSV file separates its cells and writes its decimals.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
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
    /// Rows of cells.
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

            /// Its word.
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

words!(Kind, "kind of file": "nights" = Nights, "entries" = Entries, "sales" = Sales,
    "tickets" = Tickets);
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

/// A place in a file that cannot be taken.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, ToSchema)]
pub struct BadRow {
    /// The line of the file, from 1; of a row with line breaks in its cells, where it starts.
    #[schema(example = 17)]
    pub line: u64,
    /// The column's name, or in NDJSON the JSON Pointer of the member; missing for the whole row.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(example = "unit")]
    pub column: Option<String>,
    /// What is wrong and what would be right.
    pub says: String,
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
    /// One more.
    pub fn add(&mut self, line: u64, column: Option<&str>, says: impl Into<String>) {
        self.total += 1;
        if self.rows.len() < TOLD {
            let column = column.filter(|column| !column.is_empty()).map(str::to_owned);
            self.rows.push(BadRow { line, column, says: says.into() });
        }
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
