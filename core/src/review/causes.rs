//! Why it may be: causes with what speaks for and against each, a fault of the count always first. None
//! is a verdict: they say where to look.

mod clues;
mod words;

pub use clues::{Change, Clues, PartChange};

use super::Measure;
use crate::stats::Interval;

/// What may be behind a finding.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Cause {
    /// Something is counted, typed or weighed wrong.
    Count,
    /// More is thrown away, and written down.
    Waste,
    /// Less comes out of batches.
    Batches,
    /// Portions, or food that leaves without being written down.
    Portions,
    /// A lot, or something else that stores around it share.
    Lot,
    /// A part of the day.
    Daypart,
    /// A day of the week.
    Weekday,
    /// Something that changed when it began.
    Change,
}

impl Cause {
    /// Its word in the API.
    ///
    /// ```
    /// assert_eq!(parings_core::review::Cause::Batches.word(), "batches");
    /// ```
    pub fn word(self) -> &'static str {
        match self {
            Self::Count => "count",
            Self::Waste => "waste",
            Self::Batches => "batches",
            Self::Portions => "portions",
            Self::Lot => "lot",
            Self::Daypart => "daypart",
            Self::Weekday => "weekday",
            Self::Change => "change",
        }
    }
}

/// A cause that was considered.
#[derive(Debug, Clone, PartialEq)]
pub struct Considered {
    /// The cause that was weighed.
    pub cause: Cause,
    /// What speaks for it, in sentences.
    pub speaks_for: Vec<String>,
    /// What speaks against it.
    pub speaks_against: Vec<String>,
    /// How much of the change it would explain, as a part of the ratio, with its 95 % range; none where
    /// that cannot be told.
    pub part: Option<(f64, Interval)>,
}

/// Why a finding may be.
#[derive(Debug, Clone, PartialEq)]
pub struct Explained {
    /// Causes, a fault of the count first, then those that explain most.
    pub causes: Vec<Considered>,
    /// What to look at on site, three things.
    pub look_at: Vec<&'static str>,
}

/// Weighs what is known of a store against each cause.
///
/// ```
/// use parings_core::review::{Cause, Clues, Measure, explain};
/// // Nothing but the finding is known: the count is considered all the same, and first.
/// let explained = explain(&Clues::of_nothing(Measure::Use));
/// assert_eq!(explained.causes[0].cause, Cause::Count);
/// assert_eq!(explained.look_at.len(), 3);
/// ```
pub fn explain(clues: &Clues) -> Explained {
    let mut causes = vec![words::count(clues)];
    let mut others: Vec<Considered> = if clues.measure == Measure::Lateness {
        let late = [words::daypart(clues), words::weekday(clues), words::change(clues)];
        late.into_iter().flatten().collect()
    } else {
        [
            words::waste(clues),
            words::batches(clues),
            words::portions(clues),
            words::lot(clues),
            words::weekday(clues),
            words::change(clues),
        ]
        .into_iter()
        .flatten()
        .collect()
    };
    let weight = |one: &Considered| {
        let part = one.part.map_or(0.0, |(part, _)| part.abs());
        let speaks = one.speaks_for.len() as f64 - one.speaks_against.len() as f64;
        (speaks.signum(), part)
    };
    others.sort_by(|a, b| {
        let ((a_speaks, a_part), (b_speaks, b_part)) = (weight(a), weight(b));
        b_speaks.total_cmp(&a_speaks).then(b_part.total_cmp(&a_part))
    });
    causes.extend(others);
    let look_at = words::look_at(&causes, clues.measure);
    Explained { causes, look_at }
}

#[cfg(test)]
mod tests;
