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
    Entries { store: &'static str },
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

/// The book.
#[derive(Default)]
pub struct Book {
    /// The ETag of each night's count.
    counts: BTreeMap<(&'static str, NaiveDate), String>,
    /// What waits: the night, the part of its receipt that says so.
    waiting: Vec<(&'static str, NaiveDate, Value)>,
    /// Entries that nobody has asked to withdraw.
    entries: Vec<(&'static str, Value)>,
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
                let waits = ["held", "proposed"].map(|state| &reply.json[state]);
                let waits = waits.into_iter().filter(|waits| waits.is_object());
                self.waiting.extend(waits.map(|waits| (store, date, waits.clone())));
                if !tag.is_empty() {
                    self.counts.insert((store, date), tag.to_owned());
                }
            }
            Of::Entries { store } => {
                let entries = write.body["entries"].as_array().into_iter().flatten();
                self.entries.extend(entries.map(|entry| (store, entry["id"].clone())));
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
        let all: Vec<_> = self.counts.iter().collect();
        let ((store, date), tag) = some(chance, &all)?;
        Some((*store, *date, (*tag).clone()))
    }

    /// The last count that was held, or the last change that was proposed; nobody else is given it.
    pub fn take_waiting(&mut self, held: bool) -> Option<(&'static str, NaiveDate, Value)> {
        let of = |waits: &Value| waits.get("settles_at").is_some() == held;
        let last = self.waiting.iter().rposition(|(.., waits)| of(waits))?;
        Some(self.waiting.swap_remove(last))
    }

    /// An entry to withdraw; nobody else is given it.
    pub fn take_entry(&mut self, chance: &mut Chance) -> Option<(&'static str, Value)> {
        let at = some(chance, &(0..self.entries.len()).collect::<Vec<_>>()).copied()?;
        Some(self.entries.swap_remove(at))
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
