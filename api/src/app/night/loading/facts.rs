//! What is loaded, and what is said of it.

use chrono::{DateTime, Utc};
use parings_core::calendar::BusinessDate;
use parings_core::ids::{PersonId, StoreId};
use parings_core::night::{Count, Entry, TillBatch};

/// Something recorded: what, by whom and when.
#[derive(Debug, Clone)]
pub struct Fact<T> {
    /// The fact itself.
    pub what: T,
    /// The account it is recorded for.
    pub by: PersonId,
    /// When it was recorded.
    pub at: DateTime<Utc>,
}

/// A count of a night.
#[derive(Debug, Clone)]
pub struct CountSent {
    /// The count as typed.
    pub count: Count,
    /// Why, of one that amends another of the same load.
    pub reason: Option<String>,
    /// What becomes of what is asked about it.
    pub asked: Asked,
}

/// What becomes of what is asked about a count.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Asked {
    /// It never was, for nobody is there to answer: what is doubtful is left out.
    LeftOut,
    /// It was, and the answer came at a moment: counted again, it is right.
    CountedAgain(DateTime<Utc>),
    /// It was, and nobody answered until the store opened: what is doubtful is left out.
    Unanswered(DateTime<Utc>),
}

/// A till's batch under its own id.
#[derive(Debug, Clone)]
pub struct Batch {
    /// The till's own id, by which a resend is known.
    pub id: String,
    /// Its sales and tickets.
    pub batch: TillBatch,
}

/// The facts of a night.
#[derive(Debug, Clone)]
pub struct NightFacts {
    /// The business date of the night.
    pub date: BusinessDate,
    /// Its counts, in the order they came.
    pub counts: Vec<Fact<CountSent>>,
    /// Its entries, in any order.
    pub entries: Vec<Fact<Entry>>,
    /// What the till sent.
    pub till: Vec<Fact<Batch>>,
}

impl NightFacts {
    /// A night of which nothing is recorded.
    pub fn new(date: BusinessDate) -> Self {
        Self { date, counts: Vec::new(), entries: Vec::new(), till: Vec::new() }
    }

    /// When the first of its facts came.
    pub(super) fn first(&self) -> Option<DateTime<Utc>> {
        let counts = self.counts.iter().map(|fact| fact.at);
        let entries = self.entries.iter().map(|fact| fact.at);
        counts.chain(entries).chain(self.till.iter().map(|fact| fact.at)).min()
    }
}

/// The facts of a store.
#[derive(Debug, Clone)]
pub struct StoreFacts {
    /// The store that they are about.
    pub store: StoreId,
    /// Its nights, in order of date, each once.
    pub nights: Vec<NightFacts>,
}

/// What becomes of a night that has a count.
#[derive(Debug, Clone, Copy)]
pub enum Existing<'a> {
    /// It is refused.
    Refuse,
    /// It is amended, for this reason.
    Amend(&'a str),
}

impl<'a> Existing<'a> {
    pub(super) fn reason(self) -> Option<&'a str> {
        match self {
            Self::Refuse => None,
            Self::Amend(reason) => Some(reason),
        }
    }
}

/// Where in what was given, with a JSON Pointer into the fact.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Place {
    /// The night as a whole.
    Night,
    /// Its count of this number, from 0.
    Count(usize, String),
    /// Its entry of this number, from 0.
    Entry(usize, String),
    /// Its batch of this number, from 0.
    Till(usize, String),
}

/// A fact that cannot be taken.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Refused {
    /// The store of the fact.
    pub store: StoreId,
    /// The business date of the fact.
    pub date: BusinessDate,
    /// Where in the facts of that night.
    pub at: Place,
    /// Why it cannot be taken, in words.
    pub says: String,
}

/// What was loaded.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Loaded {
    /// Stores that facts were loaded of.
    pub stores: usize,
    /// Nights that facts were loaded of.
    pub nights: usize,
    /// Revisions of counts that were added.
    pub counts: usize,
    /// Counts of items left out for a doubt.
    pub left_out: usize,
    /// Entries that were added.
    pub entries: usize,
    /// Batches of tills.
    pub batches: usize,
    /// Rows of tallies.
    pub tallies: usize,
}

impl Loaded {
    pub(super) fn add(&mut self, other: Self) {
        self.stores += other.stores;
        self.nights += other.nights;
        self.counts += other.counts;
        self.left_out += other.left_out;
        self.entries += other.entries;
        self.batches += other.batches;
        self.tallies += other.tallies;
    }
}
