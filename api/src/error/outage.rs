//! Why the database cannot work now, as it says so itself.

use diesel::result::{DatabaseErrorKind, Error};

/// What keeps the database from working. None of it is a fault of the request.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum Outage {
    /// It does not answer: it was stopped, is starting, or the way to it is broken.
    #[error("the server cannot reach its database")]
    Away,
    /// There is no room on its disk.
    #[error("the disk of the database is full: nothing can be saved until somebody makes room")]
    Full,
    /// Its disk or its files cannot be read or written.
    #[error("the database cannot use its disk: somebody has to look at its log")]
    Broken,
    /// It has no memory or no connections left.
    #[error("the database has no memory or no connections left")]
    Short,
}

/// What PostgreSQL says, by the classes of its appendix A ("PostgreSQL Error Codes", read): 08, 57P01 to
/// 57P05, 53 and 58. Drivers of diesel hand on the words and not the code. They are those of src/backend
/// of PostgreSQL 15, and of glibc for what the system answered, in English as private clusters speak.
const SAID: &[(&str, Outage)] = &[
    ("No space left on device", Outage::Full),
    ("Disk quota exceeded", Outage::Full),
    ("temporary file size exceeds", Outage::Full),
    ("terminating connection", Outage::Away),
    ("the database system is", Outage::Away),
    ("is not currently accepting connections", Outage::Away),
    // Of the driver itself, when the connection breaks.
    ("connection closed", Outage::Away),
    ("error communicating with the server", Outage::Away),
    ("too many clients", Outage::Short),
    ("remaining connection slots are reserved", Outage::Short),
    ("out of memory", Outage::Short),
    ("out of shared memory", Outage::Short),
    ("Input/output error", Outage::Broken),
    ("Read-only file system", Outage::Broken),
    ("could not access file", Outage::Broken),
];

impl Outage {
    /// What keeps the database from working, when an error is of that kind.
    pub fn of(error: &Error) -> Option<Self> {
        match error {
            Error::DatabaseError(DatabaseErrorKind::ClosedConnection, _)
            | Error::BrokenTransactionManager => Some(Self::Away),
            Error::DatabaseError(_, info) => Self::said(info.message()),
            _ => None,
        }
    }

    /// The same of words.
    pub fn said(words: &str) -> Option<Self> {
        SAID.iter().find(|(part, _)| words.contains(part)).map(|(_, outage)| *outage)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Messages of PostgreSQL 15 and of tokio-postgres 0.7 (read in their sources).
    #[test]
    fn outages_are_told_by_what_is_said() {
        for (words, outage) in [
            ("could not extend file \"base/5/1259\": No space left on device", Outage::Full),
            (
                "could not write to file \"pg_wal/xlogtemp.42\": No space left on device",
                Outage::Full,
            ),
            ("terminating connection due to administrator command", Outage::Away),
            ("terminating connection because of crash of another server process", Outage::Away),
            ("the database system is starting up", Outage::Away),
            ("the database system is in recovery mode", Outage::Away),
            ("connection closed", Outage::Away),
            ("error communicating with the server: Broken pipe (os error 32)", Outage::Away),
            ("sorry, too many clients already", Outage::Short),
            ("out of memory", Outage::Short),
            ("could not read block 3 in file \"base/5/1259\": Input/output error", Outage::Broken),
        ] {
            assert_eq!(Outage::said(words), Some(outage), "{words}");
        }
        for words in [
            "canceling statement due to statement timeout",
            "error serializing parameter 0: wrong type",
            "relation \"nights\" does not exist",
        ] {
            assert_eq!(Outage::said(words), None, "{words}");
        }
    }
}
