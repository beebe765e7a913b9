//! What a store recorded through the weeks, by the people whose work it was.

use std::collections::BTreeMap;

use anyhow::Context;
use chrono::{DateTime, TimeDelta, Utc};
use parings_core::calendar::BusinessDate;
use parings_core::checks::next_opening;
use parings_core::ids::{PersonId, StoreId};

use super::days::{Act, Happening, What};
use super::kitchen::Kitchen;
use super::people::SignIns;
use crate::app::night::loading::{Asked, Batch, CountSent, Fact, NightFacts, StoreFacts};

/// How long it takes to look again at what is asked about.
const LOOKING_AGAIN: TimeDelta = TimeDelta::minutes(4);

/// The people of one store.
#[derive(Debug, Clone, Copy)]
pub struct Hands {
    floor: PersonId,
    manager: PersonId,
    till: PersonId,
}

impl Hands {
    /// Who works in a store. Where nobody of the floor signs in, its manager records.
    pub fn of(people: &SignIns, store: &str) -> anyhow::Result<Self> {
        let store = StoreId::new(store)?;
        let find = |word| people.find(word, Some(&store)).map(|one| one.id);
        let manager = find("manager").context("a store without a manager")?;
        let till = find("till").context("a store without a till")?;
        Ok(Self { floor: find("crew").unwrap_or(manager), manager, till })
    }
}

/// Everything a store recorded from its first night to its last.
///
/// # Errors
/// When the kitchen's catalogue is not what it should be, which a test rules out.
pub fn of(
    mut kitchen: Kitchen<'_>,
    hands: &Hands,
    first: BusinessDate,
    last: BusinessDate,
) -> anyhow::Result<StoreFacts> {
    let mut nights: BTreeMap<BusinessDate, NightFacts> = BTreeMap::new();
    let mut date = first;
    while date <= last {
        for act in kitchen.day(date, date.days_until(last))? {
            let opens = opening(&kitchen, act.date);
            let slipped = kitchen.happens(Happening::Slip);
            let night = nights.entry(act.date).or_insert_with(|| NightFacts::new(act.date));
            record(night, hands, act, slipped.then_some(opens));
        }
        date = date.succ();
    }
    Ok(StoreFacts { store: kitchen.id, nights: nights.into_values().collect() })
}

/// When the store opens next.
fn opening(kitchen: &Kitchen<'_>, date: BusinessDate) -> DateTime<Utc> {
    let dayparts = kitchen.catalog.dayparts_of(&kitchen.id, kitchen.store);
    next_opening(kitchen.store, &dayparts, date)
}

/// Books an act on its night. What is asked about a count is answered, unless that nobody does until
/// the store opens.
fn record(night: &mut NightFacts, hands: &Hands, act: Act, unanswered: Option<DateTime<Utc>>) {
    let Act { at, what, .. } = act;
    match what {
        What::Entries(made) => {
            let fact = |what| Fact { what, by: hands.floor, at };
            night.entries.extend(made.into_iter().map(fact));
        }
        What::Till { id, batch } => {
            night.till.push(Fact { what: Batch { id, batch }, by: hands.till, at });
        }
        What::Night { count, entries, reason } => {
            let fact = |what| Fact { what, by: hands.manager, at };
            night.entries.extend(entries.into_iter().map(fact));
            let asked = match unanswered {
                Some(opens) => Asked::Unanswered(opens),
                None => Asked::CountedAgain(at + LOOKING_AGAIN),
            };
            let what = CountSent { count, reason, asked };
            night.counts.push(Fact { what, by: hands.manager, at });
        }
    }
}
