//! The rows of a file put together, night by night, with the lines they came from.

use std::collections::BTreeMap;

use chrono::{DateTime, Utc};
use parings_core::calendar::BusinessDate;
use parings_core::ids::{PersonId, StoreId};
use parings_core::night::{Count, CountLine, Entry, Sale, TillBatch, TillTicket, UnitsSold};
use uuid::Uuid;

use super::read::{self, Declared};
use super::rows::{Row, Says};
use super::{BadRows, Format, Kind};
use crate::app::night::loading::{
    Asked, Batch, CountSent, Fact, NightFacts, Place, Refused, StoreFacts,
};

/// Something, and the line it is from.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Placed<T> {
    /// What was read from the file.
    pub what: T,
    /// The line it is from, the first being 1.
    pub line: u64,
}

/// What a file says of a night.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Night {
    /// The first line that is about it.
    pub line: u64,
    /// The count of the night; none where the file has no row of it.
    pub count: Option<Placed<Count>>,
    /// The lines that the count's own lines are from, where each has one.
    pub count_lines: Vec<u64>,
    /// The same of its units sold.
    pub sold_lines: Vec<u64>,
    /// What was recorded during the day.
    pub entries: Vec<Placed<Entry>>,
    /// What was sold, a line of the till each.
    pub sales: Vec<Placed<Sale>>,
    /// The orders, and how long they took.
    pub tickets: Vec<Placed<TillTicket>>,
}

/// A file that can be read, all of it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct File {
    /// The kind of facts that it holds.
    pub kind: Kind,
    /// How it is written.
    pub format: Format,
    /// How many rows it has.
    pub rows: usize,
    /// What it says, store by store and night by night.
    pub nights: BTreeMap<(StoreId, BusinessDate), Night>,
}

/// How the facts of a file are recorded.
#[derive(Debug, Clone, Copy)]
pub struct Recorded<'a> {
    /// The person on whose word they are recorded.
    pub by: PersonId,
    /// The moment at which they are recorded.
    pub at: DateTime<Utc>,
    /// Why counts on record are changed.
    pub amend: Option<&'a str>,
}

/// A night while its rows come.
#[derive(Default)]
struct Coming {
    line: u64,
    count: Option<Placed<Count>>,
    lines: Vec<Placed<CountLine>>,
    sold: Vec<Placed<UnitsSold>>,
    entries: Vec<Placed<Entry>>,
    sales: Vec<Placed<Sale>>,
    tickets: Vec<Placed<TillTicket>>,
}

/// A file of which some rows cannot be taken.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Broken {
    /// The rows that cannot be taken, and why.
    pub bad: BadRows,
    /// The nights that can be read for all that, as the rules may find fault with them too.
    pub rest: Option<File>,
}

/// Reads a file, whose rows may be of many stores and nights.
///
/// # Errors
/// Everything that is wrong with it.
pub fn file(bytes: &[u8], known: Declared) -> Result<File, Box<Broken>> {
    let mut coming: BTreeMap<(StoreId, BusinessDate), Coming> = BTreeMap::new();
    let (mut bad, mut twice) = (BadRows::default(), BadRows::default());
    let mut rows = 0;
    let read = read::read(bytes, known, &mut bad, |Row { line, store, date, says }| {
        rows += 1;
        let night =
            coming.entry((store, date)).or_insert_with(|| Coming { line, ..<_>::default() });
        match says {
            Says::Count(count) => match &night.count {
                Some(first) => {
                    let says = format!("line {} has the count of this night already", first.line);
                    twice.add(line, None, says);
                }
                None => night.count = Some(Placed { what: count, line }),
            },
            Says::Line(what) => night.lines.push(Placed { what, line }),
            Says::Sold(what) => night.sold.push(Placed { what, line }),
            Says::Entry(what) => night.entries.push(Placed { what, line }),
            Says::Sale(what) => night.sales.push(Placed { what, line }),
            Says::Ticket(what) => night.tickets.push(Placed { what, line }),
        }
    });
    let Some((kind, format)) = read else {
        return Err(Box::new(Broken { bad: bad.sorted(), rest: None }));
    };
    let all_read = bad.total == 0;
    bad.extend(twice);
    let mut nights = BTreeMap::new();
    for ((store, date), night) in coming {
        // The row may be one of those that cannot be read.
        if kind == Kind::Nights && night.count.is_none() && all_read {
            let says = format!(
                "{store} has no row for {date} that is night: it says whether the count is complete"
            );
            bad.add(night.line, Some("row"), says);
        }
        nights.insert((store, date), night.finish());
    }
    let mut file = File { kind, format, rows, nights };
    if bad.total == 0 {
        return Ok(file);
    }
    let bad = bad.sorted();
    if kind == Kind::Nights {
        file.nights.retain(|_, night| night.count.is_some() && !night.may_miss(&bad));
    }
    Err(Box::new(Broken { bad, rest: Some(file) }))
}

impl Coming {
    fn finish(self) -> Night {
        let apart = |placed: Vec<Placed<CountLine>>| -> (Vec<CountLine>, Vec<u64>) {
            placed.into_iter().map(|placed| (placed.what, placed.line)).unzip()
        };
        let (lines, count_lines) = apart(self.lines);
        let (sold, sold_lines): (Vec<_>, Vec<_>) =
            self.sold.into_iter().map(|placed| (placed.what, placed.line)).unzip();
        let mut count = self.count;
        if let Some(count) = &mut count {
            count.what.lines.extend(lines);
            count.what.units_sold.extend(sold);
        }
        Night {
            line: self.line,
            count,
            count_lines,
            sold_lines,
            entries: self.entries,
            sales: self.sales,
            tickets: self.tickets,
        }
    }
}

impl File {
    /// What it says, as recorded by somebody. Sales and tickets of a night are one batch, whose id is
    /// made from that of the file.
    pub fn facts(&self, file: Uuid, recorded: Recorded<'_>) -> Vec<StoreFacts> {
        let mut stores: Vec<StoreFacts> = Vec::new();
        for ((store, date), night) in &self.nights {
            let facts = night.facts(*date, file, recorded);
            match stores.last_mut().filter(|last| last.store == *store) {
                Some(last) => last.nights.push(facts),
                None => stores.push(StoreFacts { store: store.clone(), nights: vec![facts] }),
            }
        }
        stores
    }

    /// The rows of what was refused.
    pub fn refused(&self, refused: &[Refused]) -> BadRows {
        let mut bad = BadRows::default();
        for Refused { store, date, at, says } in refused {
            match self.nights.get(&(store.clone(), *date)) {
                Some(night) => {
                    let (line, column) = night.place(self.kind, self.format, at);
                    bad.add(line, column.as_deref(), says);
                }
                None => bad.add(1, None, format!("{store}, {date}: {says}")),
            }
        }
        bad.sorted()
    }
}

impl Night {
    /// Whether a bad row may be one of this night's: rows of a night stand together.
    fn may_miss(&self, bad: &BadRows) -> bool {
        let lines = self.count_lines.iter().chain(&self.sold_lines).copied();
        let lines = lines.chain(self.count.iter().map(|count| count.line));
        let last = lines.max().unwrap_or(self.line);
        let near = self.line.saturating_sub(1)..=last + 1;
        bad.total > bad.rows.len() || bad.rows.iter().any(|row| near.contains(&row.line))
    }

    fn facts(&self, date: BusinessDate, file: Uuid, recorded: Recorded<'_>) -> NightFacts {
        let Recorded { by, at, amend } = recorded;
        let mut facts = NightFacts::new(date);
        facts.counts.extend(self.count.iter().map(|count| {
            let reason = amend.map(str::to_owned);
            Fact {
                what: CountSent { count: count.what.clone(), reason, asked: Asked::LeftOut },
                by,
                at,
            }
        }));
        let entry = |entry: &Placed<Entry>| Fact { what: entry.what.clone(), by, at };
        facts.entries.extend(self.entries.iter().map(entry));
        let batch = TillBatch {
            sales: self.sales.iter().map(|sale| sale.what.clone()).collect(),
            tickets: self.tickets.iter().map(|ticket| ticket.what.clone()).collect(),
        };
        if batch != TillBatch::default() {
            let id = format!("file-{}-{date}", file.simple());
            facts.till.push(Fact { what: Batch { id, batch }, by, at });
        }
        facts
    }

    /// The line and the column of a place; in NDJSON the pointer stands for the column.
    fn place(&self, kind: Kind, format: Format, at: &Place) -> (u64, Option<String>) {
        let column = |word: &str, pointer: &str| {
            let shape = kind.shape(word).filter(|_| format == Format::Csv);
            let column = shape.map_or(Some(pointer), |shape| shape.column_at(pointer));
            column.filter(|column| !column.is_empty()).map(str::to_owned)
        };
        match at {
            Place::Night => (self.line, None),
            Place::Count(_, pointer) => {
                let count = self.count.as_ref().map_or(self.line, |count| count.line);
                let lines = element(pointer, "/lines/", &self.count_lines);
                let sold = element(pointer, "/units_sold/", &self.sold_lines);
                match (lines, sold) {
                    (Some((line, rest)), _) => (*line, column("count", rest)),
                    (_, Some((line, rest))) => (*line, column("sold", rest)),
                    _ => (count, column("night", pointer)),
                }
            }
            Place::Entry(n, pointer) => match self.entries.get(*n) {
                Some(entry) => (entry.line, column(entry.what.body.kind(), pointer)),
                None => (self.line, None),
            },
            Place::Till(_, pointer) => {
                let sale = element(pointer, "/sales/", &self.sales);
                let ticket = element(pointer, "/tickets/", &self.tickets);
                match (sale, ticket) {
                    (Some((sale, rest)), _) => (sale.line, column("", rest)),
                    (_, Some((ticket, rest))) => (ticket.line, column("", rest)),
                    _ => (self.line, None),
                }
            }
        }
    }
}

/// The element of a list that a pointer goes into, and the pointer from there.
fn element<'a, T>(pointer: &'a str, list: &str, of: &'a [T]) -> Option<(&'a T, &'a str)> {
    let rest = pointer.strip_prefix(list)?;
    let end = rest.find('/').unwrap_or(rest.len());
    Some((of.get(rest[..end].parse::<usize>().ok()?)?, &rest[end..]))
}
