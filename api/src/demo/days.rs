//! What happens on a day: acts with their moments, and what is out of the ordinary when.

use chrono::{DateTime, Utc};
use parings_core::calendar::BusinessDate;
use parings_core::night::{Count, Entry, TillBatch};

/// Something somebody does.
pub struct Act {
    /// When.
    pub at: DateTime<Utc>,
    /// The business date it is booked on.
    pub date: BusinessDate,
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

/// Something out of the ordinary.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Happening {
    /// Guests come for an offer.
    Promotion,
    /// The potatoes of the day are of a lot that yields little.
    PoorLot,
    /// Portions have become larger than they were.
    LargerPortions,
    /// Most lines of the count are those of the night before.
    CopiedLines,
    /// Orders take longer than they did.
    SlowOrders,
    /// Fish got too warm and is thrown away for safety.
    SafetyDiscard,
    /// The herb dip runs out in the evening.
    StockOut,
    /// Nobody counts.
    NoCount,
    /// The count is sent the next morning.
    CountedLate,
    /// The count is left off half way.
    PartialCount,
    /// A tray is overlooked, and the count amended the next morning.
    Amended,
    /// Sacks are typed as kilograms, and nobody answers the question.
    Slip,
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

/// Where something happens.
#[derive(Debug, Clone, Copy)]
enum Where {
    /// In every store.
    Everywhere,
    /// In the stores of a district.
    District(&'static str),
    /// In a store.
    Store(&'static str),
}

use Where::{District, Everywhere, Store};

/// Where, from how many nights before the last to how many, and what happens.
const HAPPENINGS: [(Where, i64, i64, Happening); 36] = [
    (Everywhere, 45, 32, Happening::Promotion),
    (District("headwaters"), 20, 9, Happening::PoorLot),
    (Store("marrowford"), 22, 0, Happening::LargerPortions),
    (Store("kelderby"), 27, 0, Happening::CopiedLines),
    (Store("terncliff"), 30, 0, Happening::SlowOrders),
    (Store("hethermill"), 3, 3, Happening::SendsDough),
    (Store("stannock"), 3, 3, Happening::GetsDough),
    (Store("sluicegate"), 17, 17, Happening::SafetyDiscard),
    (Store("stannock"), 8, 8, Happening::SafetyDiscard),
    (Store("polwarren"), 8, 8, Happening::StockOut),
    (Store("whinsea"), 26, 26, Happening::StockOut),
    (Store("whinsea"), 19, 19, Happening::StockOut),
    (Store("whinsea"), 12, 12, Happening::StockOut),
    (Store("whinsea"), 5, 5, Happening::StockOut),
    (Store("lugsands"), 2, 2, Happening::StockOut),
    (Store("stannock"), 5, 5, Happening::NoCount),
    (Store("brinemouth"), 40, 40, Happening::NoCount),
    (Store("brinemouth"), 13, 13, Happening::NoCount),
    (Store("brinemouth"), 1, 1, Happening::NoCount),
    (Store("cressbeck"), 50, 49, Happening::NoCount),
    (Store("aldersike"), 33, 33, Happening::CountedLate),
    (Store("aldersike"), 4, 4, Happening::CountedLate),
    (Store("pansand"), 11, 11, Happening::CountedLate),
    (Store("polwarren"), 6, 6, Happening::PartialCount),
    (Store("harrowdune"), 7, 7, Happening::PartialCount),
    (Store("dunsaly"), 4, 4, Happening::Amended),
    (Store("sedgeholm"), 15, 15, Happening::Amended),
    (Store("marramend"), 37, 37, Happening::Amended),
    (Store("quillow"), 29, 29, Happening::Slip),
    (Store("quillow"), 0, 0, Happening::Slip),
    (Store("varrowmouth"), 7, 7, Happening::LumpClosing),
    (Store("varrowmouth"), 4, 4, Happening::Unmapped),
    (Store("lugsands"), 21, 21, Happening::Unmapped),
    (Store("ferrytoft"), 7, 7, Happening::TypedSales),
    (Store("bathing-steps"), 25, 24, Happening::TypedSales),
    (Store("tollgarth"), 10, 10, Happening::SafetyDiscard),
];

/// What is out of the ordinary in a store, so many nights before the last.
pub fn happenings(store: &str, district: &str, ago: i64) -> Vec<Happening> {
    let here = HAPPENINGS.iter().filter(|(place, from, to, _)| {
        let there = match place {
            Everywhere => true,
            District(of) => *of == district,
            Store(code) => *code == store,
        };
        there && (*to..=*from).contains(&ago)
    });
    here.map(|(.., happening)| *happening).collect()
}
