//! What a mixture is made of.

use std::collections::BTreeMap;
use std::fmt;

use parings::demo::chance::Chance;

use super::facts::pick;

/// A kind of operation. One more is a variant, a share, and what it writes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Kind {
    /// A count of today.
    FirstCount,
    /// A count of an earlier night that has none.
    LateCount,
    /// A count revised, whatever it was.
    Amendment,
    /// Two people revise the same count at once, as they last read it.
    RacedAmendment,
    /// A part of a count, of today or an earlier night.
    Part,
    /// What was asked about a held count is answered, or some of it.
    Confirmation,
    /// Another person approves or declines a change of a locked night.
    Approval,
    /// Held counts whose time has come are settled by the clock.
    Opening,
    /// Entries of today or an earlier night.
    Entries,
    /// An entry taken back.
    Withdrawal,
    /// A batch of a till.
    TillBatch,
    /// A batch that corrects an earlier one.
    TillCorrection,
    /// An earlier write sent again: the same answer.
    Resend,
    /// A price changed from a date on, past or to come.
    Price,
    /// The same for a recipe.
    Recipe,
    /// Nights of two stores worked out again.
    Restatement,
}

/// Of a hundred operations, how many are of each kind.
const SHARES: [(Kind, usize); 16] = [
    (Kind::FirstCount, 16),
    (Kind::LateCount, 6),
    (Kind::Amendment, 7),
    (Kind::RacedAmendment, 5),
    (Kind::Part, 5),
    (Kind::Confirmation, 8),
    (Kind::Approval, 5),
    (Kind::Opening, 2),
    (Kind::Entries, 16),
    (Kind::Withdrawal, 4),
    (Kind::TillBatch, 10),
    (Kind::TillCorrection, 5),
    (Kind::Resend, 6),
    (Kind::Price, 2),
    (Kind::Recipe, 1),
    (Kind::Restatement, 2),
];

impl Kind {
    /// One by chance.
    pub fn by_chance(chance: &mut Chance) -> Self {
        let all: Vec<Kind> =
            SHARES.iter().flat_map(|(kind, share)| std::iter::repeat_n(*kind, *share)).collect();
        *pick(chance, &all)
    }

    /// What the server may answer: 412 where somebody else was first, 409 where a night is locked or
    /// what waited waits no longer.
    pub fn may_be_answered(self, status: u16) -> bool {
        let overtaken = matches!(self, Self::FirstCount | Self::LateCount | Self::RacedAmendment);
        let locked = matches!(self, Self::Entries | Self::Withdrawal);
        let settled = matches!(self, Self::Confirmation | Self::Approval);
        matches!(status, 200..=202)
            || status == 412 && overtaken
            || status == 409 && (locked || settled)
    }
}

/// How often each kind was answered with each status.
#[derive(Debug, Default)]
pub struct Seen(pub BTreeMap<(Kind, u16), u32>);

impl fmt::Display for Seen {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for ((kind, status), times) in &self.0 {
            writeln!(f, "{:<16} {status} {times:>6}", format!("{kind:?}"))?;
        }
        Ok(())
    }
}
