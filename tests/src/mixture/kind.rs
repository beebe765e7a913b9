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
    /// An answer to what was asked about a held count.
    Confirmation,
    /// Head office's word on a change of a locked night.
    Approval,
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
const SHARES: [(Kind, usize); 14] = [
    (Kind::FirstCount, 16),
    (Kind::LateCount, 9),
    (Kind::Amendment, 10),
    (Kind::RacedAmendment, 6),
    (Kind::Confirmation, 4),
    (Kind::Approval, 3),
    (Kind::Entries, 18),
    (Kind::Withdrawal, 6),
    (Kind::TillBatch, 12),
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

    /// What the server may answer: 412 where somebody else was first, 409 to entries of a night that
    /// is locked and to whoever answers or decides on what waits no longer.
    pub fn may_be_answered(self, status: u16) -> bool {
        let overtaken = matches!(self, Self::FirstCount | Self::LateCount | Self::RacedAmendment);
        let late =
            matches!(self, Self::Entries | Self::Withdrawal | Self::Confirmation | Self::Approval);
        matches!(status, 200..=202) || status == 412 && overtaken || status == 409 && late
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
