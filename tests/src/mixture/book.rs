//! What a mixture has written so far, for what comes later to refer to.

use std::collections::BTreeMap;

use chrono::NaiveDate;
use parings::demo::chance::Chance;
use reqwest::Method;
use serde_json::Value;

use super::facts::pick;
use crate::house::{House, Sending};
use crate::reply::Reply;

/// How many answers are kept for a later resend to be compared with.
const ANSWERS: usize = 400;

/// Days back that count as lately.
const LATELY: i64 = 3;

/// Entries that people may still think of.
const LAST_ENTRIES: usize = 12;

/// A request that writes.
#[derive(Debug, Clone)]
pub struct Write {
    pub method: Method,
    pub path: String,
    /// A precondition, or the key that makes it safe to send again.
    pub header: Option<(&'static str, String)>,
    pub token: String,
    pub body: Value,
    pub of: Of,
}

/// What a request writes.
#[derive(Debug, Clone)]
pub enum Of {
    Count { store: &'static str, date: NaiveDate },
    Entries { store: &'static str, date: NaiveDate },
    Batch { store: &'static str },
    Other,
}

impl Write {
    pub async fn send(&self, house: &House) -> Reply {
        let headers: Vec<(&str, &str)> =
            self.header.iter().map(|(name, value)| (*name, value.as_str())).collect();
        let sending =
            Sending { token: Some(&self.token), headers: &headers, json: Some(&self.body) };
        house.send(self.method.clone(), &self.path, sending).await
    }
}

/// A store and a date.
pub type Night = (&'static str, NaiveDate);

/// The book.
#[derive(Default)]
pub struct Book {
    /// The ETag of each night's count.
    counts: BTreeMap<Night, String>,
    /// Entries that nobody has asked to withdraw.
    entries: Vec<(&'static str, NaiveDate, Value)>,
    /// What was held last of each night: the revision and what was asked.
    held: BTreeMap<Night, Value>,
    /// Revisions that wait for another person.
    proposed: Vec<(Night, Value)>,
    batches: Vec<(&'static str, Value)>,
    answered: Vec<(Write, Reply)>,
    learned: usize,
}

impl Book {
    /// Keeps what was taken.
    pub fn learn(&mut self, write: &Write, reply: &Reply) {
        if !reply.status.is_success() {
            return;
        }
        match write.of {
            Of::Count { store, date } => {
                let tag = reply.header("etag");
                if !tag.is_empty() {
                    self.counts.insert((store, date), tag.to_owned());
                }
                if reply.json["held"].is_object() {
                    self.held.insert((store, date), reply.json["held"].clone());
                }
                if let Some(revision) = reply.json["proposed"].get("revision") {
                    self.proposed.push(((store, date), revision.clone()));
                }
            }
            Of::Entries { store, date } => {
                let entries = write.body["entries"].as_array().into_iter().flatten();
                self.entries.extend(entries.map(|entry| (store, date, entry["id"].clone())));
            }
            Of::Batch { store } => self.batches.push((store, write.body.clone())),
            Of::Other => {}
        }
        let answer = (write.clone(), reply.clone());
        match self.answered.len() < ANSWERS {
            true => self.answered.push(answer),
            false => self.answered[self.learned % ANSWERS] = answer,
        }
        self.learned += 1;
    }

    pub fn has_count(&self, store: &'static str, date: NaiveDate) -> bool {
        self.counts.contains_key(&(store, date))
    }

    /// A night with a count, and the count's ETag when it was last written.
    pub fn count(&self, chance: &mut Chance) -> Option<(&'static str, NaiveDate, String)> {
        let last = self.counts.keys().map(|(_, date)| *date).max()?;
        let lately = chance.happens(0.6);
        let near = |date: NaiveDate| !lately || (last - date).num_days() <= LATELY;
        let all: Vec<_> = self.counts.iter().filter(|((_, date), _)| near(*date)).collect();
        let ((store, date), tag) = some(chance, &all)?;
        Some((*store, *date, (*tag).clone()))
    }

    /// An entry to withdraw, of those that came last; nobody else is given it.
    pub fn take_entry(&mut self, chance: &mut Chance) -> Option<(&'static str, Value)> {
        let first = self.entries.len().saturating_sub(LAST_ENTRIES);
        let at = some(chance, &(first..self.entries.len()).collect::<Vec<_>>()).copied()?;
        let (store, _, id) = self.entries.swap_remove(at);
        Some((store, id))
    }

    /// An entry of a night to withdraw with its count; nobody else is given it.
    pub fn take_entry_of(&mut self, night: Night) -> Option<Value> {
        let at = self.entries.iter().position(|(store, date, _)| (*store, *date) == night)?;
        Some(self.entries.swap_remove(at).2)
    }

    /// A held count: its night, and what was asked.
    pub fn held(&self, chance: &mut Chance) -> Option<(Night, Value)> {
        let all: Vec<_> = self.held.iter().collect();
        some(chance, &all).map(|(night, held)| (**night, (*held).clone()))
    }

    /// A proposed revision; nobody else is given it.
    pub fn take_proposed(&mut self, chance: &mut Chance) -> Option<(Night, Value)> {
        let at = some(chance, &(0..self.proposed.len()).collect::<Vec<_>>()).copied()?;
        Some(self.proposed.swap_remove(at))
    }

    pub fn batch(&self, chance: &mut Chance) -> Option<(&'static str, Value)> {
        some(chance, &self.batches).cloned()
    }

    /// A write with its first answer.
    pub fn answer(&self, chance: &mut Chance) -> Option<(Write, Reply)> {
        some(chance, &self.answered).cloned()
    }
}

fn some<'a, T>(chance: &mut Chance, of: &'a [T]) -> Option<&'a T> {
    (!of.is_empty()).then(|| pick(chance, of))
}
