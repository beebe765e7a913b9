use std::fmt;

use serde::{Deserialize, Serialize};

use crate::catalog::Typed;
use crate::ids::{EntryId, ItemId, PlaceId, StageId};
use crate::money::Money;

/// What is done about something that looks wrong.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Treatment {
    /// It is impossible, and refused.
    Reject,
    /// Somebody is asked before it is relied on.
    Confirm,
    /// It is accepted, and said.
    Flag,
    /// It is accepted, and kept out of what compares stores.
    LeaveOut,
}

/// What a check is about.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(tag = "of", rename_all = "snake_case")]
pub enum About {
    /// The night as a whole.
    Night,
    /// All that was counted of an item.
    Item {
        /// The item that was counted.
        item: ItemId,
    },
    /// An item at one stage in one place: one or more lines of the count.
    Line {
        /// The item that was counted.
        item: ItemId,
        /// The storage place in which it stood.
        place: PlaceId,
        /// The stage; none for as purchased.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        stage: Option<StageId>,
    },
    /// An entry of the day.
    Entry {
        /// The entry, by its client's id.
        entry: EntryId,
        /// The item that the entry moves.
        item: ItemId,
    },
}

impl About {
    /// The item it is about; none for the night as a whole.
    pub fn item(&self) -> Option<&ItemId> {
        match self {
            Self::Night => None,
            Self::Item { item } | Self::Line { item, .. } | Self::Entry { item, .. } => Some(item),
        }
    }
}

impl fmt::Display for About {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Night => f.write_str("night"),
            Self::Item { item } => write!(f, "{item}"),
            Self::Line { item, place, stage: None } => write!(f, "{item}@{place}"),
            Self::Line { item, place, stage: Some(stage) } => write!(f, "{item}@{place}/{stage}"),
            Self::Entry { entry, .. } => write!(f, "{entry}"),
        }
    }
}

/// Another way to read what was typed.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Reading {
    /// What it would be, as typed.
    pub quantity: Typed,
    /// How it would have come about, in words.
    pub says: String,
}

/// Something about a night that is refused, asked, said or left out.
///
/// ```
/// use parings_core::checks::{About, Check, CheckKind};
/// use parings_core::ids::ItemId;
/// let potato = ItemId::new("potato").unwrap();
/// let check = Check::new(CheckKind::NegativeUse, About::Item { item: potato }, "a delivery is missing?");
/// assert_eq!(check.id(), "negative_use:potato");
/// ```
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Check {
    /// In what way it looks wrong.
    pub kind: CheckKind,
    /// What is done about it.
    pub treatment: Treatment,
    /// Which part of the night looks wrong.
    pub about: About,
    /// In words, for who counted. It never says what the count should come to.
    pub says: String,
    /// How else it may be read: the first is how it was typed.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub readings: Vec<Reading>,
    /// The places to count again, where it asks for that.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub recount: Vec<About>,
    /// The items whose count is left out while nobody answers; none where it is not about what was
    /// counted.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub doubtful: Vec<ItemId>,
    /// The money at stake, where it is known: what the readings differ by.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub stake: Option<Money>,
}

impl Check {
    /// A check of a kind, with the kind's own treatment, no readings and no stake; what is doubtful
    /// is the item of the count that it is about.
    pub fn new(kind: CheckKind, about: About, says: impl Into<String>) -> Self {
        let counted = match &about {
            About::Item { item } | About::Line { item, .. } => Some(item.clone()),
            About::Night | About::Entry { .. } => None,
        };
        Self {
            doubtful: counted.into_iter().collect(),
            kind,
            treatment: kind.treatment(),
            about,
            says: says.into(),
            readings: Vec::new(),
            recount: Vec::new(),
            stake: None,
        }
    }

    /// Its id: the same for the same question about the same thing, in every revision of the night.
    pub fn id(&self) -> String {
        format!("{}:{}", self.kind.word(), self.about)
    }
}

macro_rules! kinds {
    ($($(#[doc = $says:literal])+ $name:ident = $word:literal: $treatment:ident;)*) => {
        /// What can look wrong about a night.
        #[derive(
            Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize,
        )]
        #[serde(rename_all = "snake_case")]
        pub enum CheckKind { $($(#[doc = $says])+ $name,)* }

        impl CheckKind {
            /// Every kind, in the order in which they are declared.
            pub const ALL: &[Self] = &[$(Self::$name,)*];

            /// Its word in the API.
            pub fn word(self) -> &'static str {
                match self { $(Self::$name => $word,)* }
            }

            /// What is done about it.
            pub fn treatment(self) -> Treatment {
                match self { $(Self::$name => Treatment::$treatment,)* }
            }

            /// What it is, in words.
            pub fn says(self) -> &'static str {
                match self { $(Self::$name => concat!($($says),+),)* }
            }
        }
    };
}

kinds! {
    /// The number fits what is expected if it is read in the other unit of the scale: pounds for kilograms.
    UnitSlip = "unit_slip": Confirm;
    /// The number fits what is expected if packs were typed as what they hold, or the other way.
    PackSlip = "pack_slip": Confirm;
    /// The number fits what is expected if its decimal point is moved.
    DecimalSlip = "decimal_slip": Confirm;
    /// The number fits what is expected if the pan was weighed with it.
    TareForgotten = "tare_forgotten": Confirm;
    /// The same lines were sent a moment ago under another id.
    SameContent = "same_content": Confirm;
    /// A line that is due is blank in a count that is called complete.
    MissedItem = "missed_item": Reject;
    /// Items have too few nights on record for the checks that go by them.
    NoHistory = "no_history": Flag;
    /// Not every line that is due is counted.
    PartialCount = "partial_count": Flag;
    /// The clock says that it is another business date.
    AfterMidnight = "after_midnight": Confirm;
    /// The date has not begun.
    FutureDate = "future_date": Reject;
    /// The date is more than a day past.
    OldDate = "old_date": Confirm;
    /// Too many lines are what they were at the count before.
    CopiedCount = "copied_count": Confirm;
    /// More stands there than could.
    NegativeUse = "negative_use": Confirm;
    /// The row by itself cannot be: a weight below nothing, an unknown item or unit.
    ImpossibleRow = "impossible_row": Reject;
    /// More came out of a stage than can.
    ImpossibleYield = "impossible_yield": Confirm;
    /// More was thrown away than was there.
    WasteAboveHandled = "waste_above_handled": Confirm;
    /// Too many weights end in round figures of the scale.
    RoundingHabit = "rounding_habit": Flag;
    /// A delivery or transfer was entered after the night closed.
    LateEntry = "late_entry": Flag;
    /// A transfer that the other store has not entered.
    OneSidedTransfer = "one_sided_transfer": Flag;
    /// The night is locked: a change needs another person's approval.
    BackDatedEdit = "back_dated_edit": Confirm;
    /// The store stays closed on that date: no count is due, and none is not zero.
    ClosedDay = "closed_day": Flag;
    /// The store traded for much less than its usual hours.
    ShortDay = "short_day": LeaveOut;
    /// The store is new: it is not ranked yet.
    NewStore = "new_store": LeaveOut;
    /// The clocks changed during the night.
    ClockChange = "clock_change": Flag;
    /// The device's clock is off.
    DeviceClock = "device_clock": Confirm;
    /// Two people counted the same line and differ.
    TwoCounters = "two_counters": Confirm;
    /// The count took long while the store traded.
    SalesDuringCount = "sales_during_count": Flag;
    /// A recipe or price changes inside the span.
    ChangeInside = "change_inside": Flag;
    /// One pan is counted in two places.
    PanCountedTwice = "pan_counted_twice": Confirm;
    /// One person recorded in two stores at once.
    SharedSignIn = "shared_sign_in": Flag;
    /// Whoever recorded it works here no longer: their rows keep their name.
    PersonLeft = "person_left": Flag;
}
