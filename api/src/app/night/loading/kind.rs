//! The kinds of facts that files hold.

use std::fmt;
use std::str::FromStr;

/// What a file holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Kind {
    /// Closing counts of nights, with the units sold and net sales that stand in them.
    Nights,
    /// What was recorded through the day.
    Entries,
    /// What was sold, by the till's codes.
    Sales,
    /// Orders and how long they took.
    Tickets,
}

impl Kind {
    /// Every kind, in the order of declaration.
    pub const ALL: [Self; 4] = [Self::Nights, Self::Entries, Self::Sales, Self::Tickets];

    /// Its word in the API and in files.
    pub fn word(self) -> &'static str {
        match self {
            Self::Nights => "nights",
            Self::Entries => "entries",
            Self::Sales => "sales",
            Self::Tickets => "tickets",
        }
    }
}

impl fmt::Display for Kind {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.word())
    }
}

impl FromStr for Kind {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        let found = Self::ALL.into_iter().find(|kind| kind.word() == text);
        let words = Self::ALL.map(Self::word).join(", ");
        found.ok_or_else(|| format!("\"{text}\" is no kind of file: use one of {words}"))
    }
}
