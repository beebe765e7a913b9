use std::collections::BTreeMap;

use chrono::{DateTime, Utc};

use crate::calendar::BusinessDate;
use crate::catalog::{Catalog, Limits, Store};
use crate::ids::{EntryId, ItemId, StoreId};
use crate::night::{Count, CountLine};
use crate::quantity::Tallied;
use crate::tally::{Day, DayFacts, Ending, ItemSpan, Nights};

/// Everything that the checks of a submitted count look at. Nothing in it is fetched by the checks,
/// and what is empty or none is taken as *nothing known*: those checks then stay silent, or say that
/// they have no past to go by.
///
/// ```
/// use parings_core::catalog::{Catalog, Kind, Limits};
/// use parings_core::checks::{Given, night};
/// use parings_core::ids::StoreId;
/// use parings_core::night::Count;
/// use parings_core::tally::{Day, DayFacts};
///
/// let mut catalog = Catalog::default();
/// let ford = r#"{"title":"Ford","district":"upper","owner":"brook","format":"counter",
///   "zone":"Europe/Berlin","open":["thu","fri","sat"]}"#;
/// let ford = Kind::Store.read(&mut serde_json::Deserializer::from_str(ford)).unwrap();
/// catalog.put("ford", ford).unwrap();
/// let (id, limits) = (StoreId::new("ford").unwrap(), Limits::default());
/// let (count, facts, day) = (Count::default(), DayFacts::default(), Day::default());
/// let given = Given::new(
///     (&catalog, &limits),
///     (&id, &catalog.stores[&id]),
///     "2025-06-13".parse().unwrap(),
///     "2025-06-13T21:00:00Z".parse().unwrap(),
///     &count,
///     (&facts, &day),
/// );
/// // A count of a store that is a month old by now, in which nothing is out of order.
/// let given = Given { open_days: Some(40), ..given };
/// assert!(night(&given).is_empty());
/// ```
#[derive(Debug, Clone)]
pub struct Given<'a> {
    /// What is in force on the date.
    pub catalog: &'a Catalog,
    /// The network's limits, from its settings.
    pub limits: &'a Limits,
    /// The store's code.
    pub id: &'a StoreId,
    /// The store as head office describes it on the date.
    pub store: &'a Store,
    /// The date in the address.
    pub date: BusinessDate,
    /// The server's time at which the count came.
    pub now: DateTime<Utc>,
    /// The count that came.
    pub count: &'a Count,
    /// The date's facts, with that count in them and nothing left out.
    pub facts: &'a DayFacts,
    /// What they add up to.
    pub day: &'a Day,
    /// By item: the span that would end with this count, and the spans before.
    pub items: BTreeMap<ItemId, ItemPast>,
    /// The lines of counts in force before this date, the newest first; some four weeks are enough. What
    /// is written on pans, and when they must be thrown away, is not looked at.
    pub before: &'a [(BusinessDate, Vec<CountLine>)],
    /// What else was sent for this store under other ids, whatever the date, in the last minutes.
    pub sent: &'a [Sent],
    /// When the entries of the date were recorded.
    pub recorded: BTreeMap<EntryId, DateTime<Utc>>,
    /// When the count in force was taken, if there is one: then this one is an amendment.
    pub amends: Option<DateTime<Utc>>,
    /// Open days since the store's first, up to this date; none when nobody knows.
    pub open_days: Option<u32>,
    /// Recipes and prices that changed lately.
    pub changes: &'a [ReferenceChange],
    /// Where else the sender recorded something lately.
    pub elsewhere: &'a [Elsewhere],
    /// Names of those in it whose account has ended.
    pub left: &'a [String],
}

/// The spans of an item at the store.
#[derive(Debug, Clone, Default)]
pub struct ItemPast {
    /// The span that would end with this count; none for a first count, or when not every shelf
    /// is answered.
    pub ends: Option<ItemSpan>,
    /// Those before it that are relied on, the newest first; some four weeks are enough. Held,
    /// left-out and doubtful ones are not among them.
    pub past: Vec<PastUse>,
}

impl ItemPast {
    /// Of every item that a day counts: the span that would end with it, and those of so many nights
    /// before that are relied on.
    pub fn of_day(
        nights: &Nights,
        ending: &Ending,
        day: &Day,
        back: i64,
    ) -> BTreeMap<ItemId, Self> {
        let mut ends = nights.would_end(ending, day);
        let from = ending.date.plus_days(-back);
        let counted = day.items.iter().filter(|(_, item)| item.count.is_some());
        counted
            .map(|(id, _)| {
                let past = nights.spans_of(id, from, ending.date).map(PastUse::from).collect();
                (id.clone(), Self { ends: ends.remove(id), past })
            })
            .collect()
    }
}

/// The use of an item between two counts of the past.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct PastUse {
    /// Open nights of the span.
    pub nights: u64,
    /// What was used between the two counts, as purchased.
    pub used: Tallied,
    /// Of that, what went into preparations.
    pub made_into: Tallied,
    /// Expected use by what was sold; none while sales are pending.
    pub expected: Option<Tallied>,
}

impl PastUse {
    /// What it was used for: sales and preparations.
    pub fn due(&self) -> Option<Tallied> {
        self.expected.map(|expected| expected + self.made_into)
    }

    /// Used less what it was used for; none while expected use is pending.
    pub fn variance(&self) -> Option<Tallied> {
        self.due().map(|due| self.used - due)
    }
}

impl From<&ItemSpan> for PastUse {
    fn from(span: &ItemSpan) -> Self {
        let ItemSpan { nights, used, made_into, expected, .. } = *span;
        Self { nights, used, made_into, expected }
    }
}

/// A submission of the last minutes.
#[derive(Debug, Clone)]
pub struct Sent {
    /// When the server received it.
    pub at: DateTime<Utc>,
    /// The business date that it is for.
    pub date: BusinessDate,
    /// The lines of the count that it held.
    pub lines: Vec<CountLine>,
}

/// A change of the reference data that changes figures.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ReferenceChange {
    /// Which of the item's documents it is a change of.
    pub what: Changed,
    /// The item whose expected use or cost it changes.
    pub item: ItemId,
    /// From which date it is in force.
    pub from: BusinessDate,
}

/// Which document a change of the reference data is of.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Changed {
    /// A recipe, or what a preparation takes.
    Recipe,
    /// The standard price.
    Price,
}

/// Something that one person recorded at another store.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Elsewhere {
    /// The other store.
    pub store: StoreId,
    /// When it was recorded there.
    pub at: DateTime<Utc>,
}

impl<'a> Given<'a> {
    /// A count with its date, and nothing known of what was before. `reference` is the catalogue and
    /// the limits, `at` the store, `tallied` the date's facts and their sum, with the count in them.
    pub fn new(
        reference: (&'a Catalog, &'a Limits),
        at: (&'a StoreId, &'a Store),
        date: BusinessDate,
        now: DateTime<Utc>,
        count: &'a Count,
        tallied: (&'a DayFacts, &'a Day),
    ) -> Self {
        Self {
            catalog: reference.0,
            limits: reference.1,
            id: at.0,
            store: at.1,
            date,
            now,
            count,
            facts: tallied.0,
            day: tallied.1,
            items: BTreeMap::new(),
            before: &[],
            sent: &[],
            recorded: BTreeMap::new(),
            amends: None,
            open_days: None,
            changes: &[],
            elsewhere: &[],
            left: &[],
        }
    }
}
