//! From wire types to the domain: every fault is gathered, each with the place it is at.

use std::fmt::Display;
use std::str::FromStr;

use serde::de::DeserializeOwned;
use serde_json::Value;

use crate::error::{AppError, Fault};
use crate::http::quantity::Number;

/// Longest title, in characters.
pub const TITLE_MAX: usize = 120;

/// Gathers what cannot be taken. A reading answers `None` where it found a fault; what was read
/// is put together only when nothing is missing.
///
/// ```
/// use parings::http::faults::Faults;
/// use parings_core::ids::ItemId;
///
/// let mut faults = Faults::at("/document");
/// let item: Option<ItemId> = faults.parse("item", "Potato");
/// let title = faults.title("title", "");
/// assert!(item.is_none() && title.is_none());
/// let pointers: Vec<_> = faults.found().iter().map(|f| f.pointer.as_str()).collect();
/// assert_eq!(pointers, ["/document/item", "/document/title"]);
/// ```
#[derive(Debug, Default)]
pub struct Faults {
    at: String,
    found: Vec<Fault>,
}

impl Faults {
    /// Begins at a place, as a JSON Pointer.
    pub fn at(pointer: &str) -> Self {
        Self { at: pointer.to_owned(), found: Vec::new() }
    }

    /// What was found so far.
    pub fn found(&self) -> &[Fault] {
        &self.found
    }

    /// Notes a fault in a member.
    pub fn add(&mut self, member: &str, says: impl Display) {
        self.found.push(Fault::new(format!("{}/{member}", self.at), says.to_string()));
    }

    /// Notes a fault in the place itself.
    pub fn here(&mut self, says: impl Display) {
        self.found.push(Fault::new(self.at.clone(), says.to_string()));
    }

    /// The value, or its error noted at a member.
    pub fn take<T>(&mut self, member: &str, read: Result<T, impl Display>) -> Option<T> {
        read.map_err(|error| self.add(member, error)).ok()
    }

    /// Reads a member that is text.
    pub fn parse<T: FromStr<Err: Display>>(&mut self, member: &str, text: &str) -> Option<T> {
        self.take(member, text.parse())
    }

    /// Reads a member that may be missing: `Some(None)` when it is.
    pub fn maybe<W, T>(
        &mut self,
        wire: Option<W>,
        read: impl FnOnce(&mut Self, W) -> Option<T>,
    ) -> Option<Option<T>> {
        match wire {
            None => Some(None),
            Some(wire) => read(self, wire).map(Some),
        }
    }

    /// Reads a member that is a decimal, as the domain type reads its own.
    pub fn decimal<T: DeserializeOwned>(&mut self, member: &str, number: &Number) -> Option<T> {
        self.take(member, serde_json::from_value(Value::String(number.to_string())))
    }

    /// A title people read: not empty, not too long.
    pub fn title(&mut self, member: &str, title: &str) -> Option<String> {
        let title = title.trim();
        if title.is_empty() {
            self.add(member, "a title is missing");
        } else if title.chars().count() > TITLE_MAX {
            self.add(member, format!("a title has {TITLE_MAX} characters at most"));
        } else {
            return Some(title.to_owned());
        }
        None
    }

    /// Reads what is inside a member.
    pub fn within<T>(
        &mut self,
        member: &str,
        read: impl FnOnce(&mut Self) -> Option<T>,
    ) -> Option<T> {
        let length = self.at.len();
        self.at.push('/');
        self.at.push_str(member);
        let value = read(self);
        self.at.truncate(length);
        value
    }

    /// Reads every element of a list; all of them, so that every fault is found.
    pub fn each<W, T>(
        &mut self,
        member: &str,
        list: Vec<W>,
        mut read: impl FnMut(&mut Self, W) -> Option<T>,
    ) -> Option<Vec<T>> {
        self.within(member, |faults| {
            let read: Vec<_> = list
                .into_iter()
                .enumerate()
                .map(|(n, wire)| faults.within(&n.to_string(), |faults| read(faults, wire)))
                .collect();
            read.into_iter().collect()
        })
    }

    /// Reads every element of a list of texts.
    pub fn parse_each<T: FromStr<Err: Display>>(
        &mut self,
        member: &str,
        list: &[String],
    ) -> Option<Vec<T>> {
        let read: Vec<_> = list
            .iter()
            .enumerate()
            .map(|(n, text)| self.parse(&format!("{member}/{n}"), text))
            .collect();
        read.into_iter().collect()
    }

    /// What was read, when nothing was wrong.
    ///
    /// # Errors
    /// [`AppError::Invalid`] with every fault.
    pub fn finish<T>(self, read: Option<T>) -> Result<T, AppError> {
        match read {
            Some(value) if self.found.is_empty() => Ok(value),
            _ => Err(AppError::Invalid(self.found)),
        }
    }
}
