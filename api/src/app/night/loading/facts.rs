//! What is loaded, and what is said of it.

use chrono::{DateTime, Utc};
use parings_core::calendar::BusinessDate;
use parings_core::ids::{PersonId, StoreId};
use parings_core::night::{Count, Entry, TillBatch};

/// Something recorded: what, by whom and when.
#[derive(Debug, Clone)]
pub struct Fact<T> {
    /// What.
    pub what: T,
    /// By whom.
    pub by: PersonId,
    /// When.
    pub at: DateTime<Utc>,
}

/// A count of a night.
#[derive(Debug, Clone)]
pub struct CountSent {
    /// The count.
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
    /// The id.
    pub id: String,
    /// Its sales and tickets.
    pub batch: TillBatch,
}

/// The facts of a night.
#[derive(Debug, Clone)]
pub struct NightFacts {
    /// Its date.
    pub date: BusinessDate,
    /// Its counts, in the order they came.
    pub counts: Vec<Fact<CountSent>>,
    /// Its entries.
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
    /// The store.
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
    /// The night.
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
    /// The store.
    pub store: StoreId,
    /// The date.
    pub date: BusinessDate,
    /// Where.
    pub at: Place,
    /// Why.
    pub says: String,
}

/// What was loaded.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Loaded {
    /// Stores.
    pub stores: usize,
    /// Nights.
    pub nights: usize,
    /// Counts.
    pub counts: usize,
    /// Counts of items left out for a doubt.
    pub left_out: usize,
    /// Entries.
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
