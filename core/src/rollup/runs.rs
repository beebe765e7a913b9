//! Runs of spans: what counts leave when they meet.

use crate::calendar::BusinessDate;
use crate::quantity::Tallied;
use crate::tally::ItemSpan;

/// A count: the number of its date, and how far it may be off.
pub(super) type End = (i64, Tallied);

/// Spans of an item, each of which opens with the count that the one before closed with; their counts
/// in between err once one way and once the other, so only the two ends are kept.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Run {
    /// The count that the first of them opens with.
    pub(super) first: End,
    /// The count that the last of them closes with.
    pub(super) last: End,
}

impl Run {
    /// The run of one span, which closed on a date.
    pub(super) fn of_span(date: BusinessDate, span: &ItemSpan) -> Self {
        let first = (span.opened_on.number(), span.opening.sd);
        Self { first, last: (date.number(), span.closing.sd) }
    }

    /// Puts it to those it meets among some of its item, or beside them.
    pub(super) fn join(self, runs: &mut Vec<Self>) {
        let before = runs.iter().rposition(|run| run.last == self.first);
        let after = runs.iter().rposition(|run| run.first == self.last);
        match (before, after) {
            (Some(before), Some(after)) => {
                runs[before].last = runs[after].last;
                runs.swap_remove(after);
            }
            (Some(before), None) => runs[before].last = self.last,
            (None, Some(after)) => runs[after].first = self.first,
            (None, None) => runs.push(self),
        }
    }
}
