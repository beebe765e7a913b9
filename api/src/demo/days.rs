//! What happens on a day: acts with their moments, and what is out of the ordinary when.

use chrono::{DateTime, Utc};
use parings_core::calendar::BusinessDate;
use parings_core::night::{Count, Entry, TillBatch};
use uuid::Uuid;

/// Something somebody does.
pub struct Act {
    /// When.
    pub at: DateTime<Utc>,
    /// The business date it is booked on.
    pub date: BusinessDate,
    /// The client's id of the write.
    pub key: Uuid,
    /// What.
    pub what: What,
}

/// What somebody does.
pub enum What {
    /// The floor records entries.
    Entries(Vec<Entry>),
    /// The till sends a batch.
    Till {
        /// Its id.
        id: String,
        /// The batch.
        batch: TillBatch,
    },
    /// The manager submits the night, or amends it with a reason.
    Night {
        /// The count.
        count: Count,
        /// Entries made with it.
        entries: Vec<Entry>,
        /// Why, for an amendment.
        reason: Option<String>,
    },
}

impl What {
    /// The act in a word.
    pub fn word(&self) -> &'static str {
        match self {
            Self::Entries(_) => "entries",
            Self::Till { .. } => "till batch",
            Self::Night { reason: None, .. } => "night",
            Self::Night { .. } => "amendment",
        }
    }
}

/// Something out of the ordinary.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Happening {
    /// The potatoes of the day are of a lot that yields little.
    PoorLot,
    /// Fish got too warm and is thrown away for safety.
    SafetyDiscard,
    /// The herb dip runs out in the evening.
    StockOut,
    /// Nobody counts.
    NoCount,
    /// The count is left off half way.
    PartialCount,
    /// A tray is overlooked, and the count amended the next morning.
    Amended,
    /// The till is down and sales are typed.
    TypedSales,
    /// The till sends a code that nobody mapped.
    Unmapped,
    /// Tickets of the evening are closed all at once.
    LumpClosing,
    /// Two trays of dough go to the neighbour …
    SendsDough,
    /// … and arrive there.
    GetsDough,
}

/// Store, which of its open days (from 0), and what happens.
const HAPPENINGS: [(&str, usize, Happening); 13] = [
    ("hethermill", 7, Happening::PoorLot),
    ("hethermill", 8, Happening::PoorLot),
    ("hethermill", 9, Happening::PoorLot),
    ("hethermill", 10, Happening::SendsDough),
    ("stannock", 10, Happening::GetsDough),
    ("stannock", 5, Happening::SafetyDiscard),
    ("stannock", 8, Happening::NoCount),
    ("polwarren", 4, Happening::StockOut),
    ("polwarren", 6, Happening::PartialCount),
    ("dunsaly", 9, Happening::Amended),
    ("varrowmouth", 6, Happening::LumpClosing),
    ("varrowmouth", 9, Happening::Unmapped),
    ("ferrytoft", 5, Happening::TypedSales),
];

/// What is out of the ordinary in a store on one of its open days.
pub fn happenings(store: &str, day: usize) -> Vec<Happening> {
    let here = HAPPENINGS.iter().filter(|(s, d, _)| (*s, *d) == (store, day));
    here.map(|(.., happening)| *happening).collect()
}
