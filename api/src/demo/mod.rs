//! The demo: an invented chain of griddle counters in an invented river valley, with two weeks of
//! facts that end yesterday.
//!
//! Everything is done by the use cases, by the people whose work it is, at the moment they would
//! have done it: what is recorded then, cut-offs and pins are real. Only the clock is set. The
//! caller decides where a demo belongs; it is for a private cluster.

pub mod chain;
pub mod chance;
mod days;
mod kitchen;
pub mod pars;
mod people;
mod sales;
mod stock;

use std::path::Path;

use anyhow::{Context, anyhow};
use chrono::{DateTime, NaiveTime, TimeDelta, Utc};
use diesel_async::{AsyncConnection, AsyncPgConnection};
use futures::StreamExt;
use futures::stream::FuturesUnordered;
use parings_core::calendar::{BusinessDate, business_date};
use parings_core::checks::{Answer, Check};
use parings_core::ids::{PersonId, StoreId, WriteId};

use crate::app::confirmations::{Answered, Choice, Confirmation};
use crate::app::nights::Submission;
use crate::app::writes::{Expected, Reply};
use crate::app::{Deps, confirmations, entries, nights, till};
use crate::context::Caller;
use crate::db;
use crate::edge::Clock;
use crate::error::AppError;
use crate::starting;
use days::{Act, What};
use kitchen::{Kitchen, STORES};
pub use people::{FILE, SignIn, SignIns};

/// Nights of the demo.
pub const NIGHTS: usize = 14;

/// Days before the first night on which head office put its documents on record.
const BEFORE: i64 = 6;

/// Somebody at work, whose clock is set for each act.
struct Hand {
    deps: Deps,
    caller: Caller,
}

impl Hand {
    fn new(deps: &Deps, person: PersonId) -> Self {
        let caller = Caller { person, session: None, request_id: "demo".to_owned() };
        Self { deps: deps.clone(), caller }
    }

    /// What use cases are given at a moment.
    fn at(&self, moment: DateTime<Utc>) -> Deps {
        Deps { clock: Clock::standing(moment), ..self.deps.clone() }
    }
}

/// The people of one store.
struct Hands {
    floor: Hand,
    manager: Hand,
    till: Hand,
}

/// Loads the demo, and writes the passwords to [`FILE`] in `folder`. `step` is told after each
/// store's day how many are done, and of how many. Nothing is done, and nobody answered, where the
/// network has stores.
///
/// A load that is broken off is not taken up again: begin with an empty database then.
///
/// # Errors
/// When the database cannot be reached, the file not written, or a use case refuses an act, which
/// a test rules out.
pub async fn load(
    deps: &Deps,
    owner_url: &str,
    folder: &Path,
    now: DateTime<Utc>,
    mut step: impl FnMut(usize, usize),
) -> anyhow::Result<Option<SignIns>> {
    starting::put(owner_url).await?;
    if has_stores(owner_url).await? {
        return Ok(None);
    }
    let catalog = chain::catalog()?;
    // Yesterday in every zone of the valley.
    let todays = catalog.stores.values().map(|s| business_date(now, &s.zone, s.cut_off));
    let last = todays.min().context("a chain without stores")?.pred();
    let first = last.plus_days(1 - NIGHTS as i64);
    let opening = morning(first.plus_days(-BEFORE));

    let stores: Vec<StoreId> = catalog.stores.keys().cloned().collect();
    let sign_ins = people::add(deps, owner_url, stores, opening).await?;
    people::tell(&sign_ins, folder)?;
    let hand = |word: &str, store: Option<&StoreId>| {
        sign_ins.find(word, store).map(|one| Hand::new(deps, one.id))
    };
    let office = hand("office", None).context("nobody of head office")?;
    chain::open(&office, opening, first.plus_days(1 - BEFORE)).await?;
    pars::publish(&office, opening, first.plus_days(1 - BEFORE)).await?;

    let mut kitchens = Vec::new();
    for place in &STORES {
        let kitchen = Kitchen::new(&catalog, place)?;
        let store = Some(&kitchen.id);
        let manager = hand("manager", store).context("a store without a manager")?;
        let floor = hand("crew", store).or_else(|| hand("manager", store));
        let floor = floor.context("a store without people")?;
        let till = hand("till", store).context("a store without a till")?;
        kitchens.push((kitchen, Hands { floor, manager, till }));
    }
    let (mut done, total) = (0, NIGHTS * kitchens.len());
    let mut date = first;
    while date <= last {
        if first.days_until(date) == 5 {
            chain::raise_price_of_fish(&office, morning(date), date.plus_days(3)).await?;
        }
        let mut running = FuturesUnordered::new();
        for (kitchen, hands) in &mut kitchens {
            let acts = kitchen.day(date)?;
            let (store, hands) = (&kitchen.id, &*hands);
            running.push(async move {
                for act in acts {
                    perform(hands, store, act).await?;
                }
                anyhow::Ok(())
            });
        }
        while let Some(one) = running.next().await {
            one?;
            done += 1;
            step(done, total);
        }
        drop(running);
        date = date.succ();
    }
    Ok(Some(sign_ins))
}

/// Nine o'clock UTC on a date, when head office is at work.
fn morning(date: BusinessDate) -> DateTime<Utc> {
    chrono::NaiveDate::from(date).and_time(NaiveTime::MIN).and_utc() + TimeDelta::hours(9)
}

async fn has_stores(owner_url: &str) -> anyhow::Result<bool> {
    let mut conn = AsyncPgConnection::establish(owner_url).await.context("connect as the owner")?;
    Ok(db::reference::has_any(&mut conn, parings_core::catalog::Kind::Store).await?)
}

async fn perform(hands: &Hands, store: &StoreId, act: Act) -> anyhow::Result<()> {
    let Act { at, date, key, what } = act;
    let key = WriteId(key);
    let told = format!("{store} on {date}: {}", what.word());
    let reply = match what {
        What::Entries(made) => {
            let Hand { caller, .. } = &hands.floor;
            entries::add(&hands.floor.at(at), caller, key, store, date, made, |_| ()).await
        }
        What::Till { id, batch } => {
            let Hand { caller, .. } = &hands.till;
            till::feed(&hands.till.at(at), caller, store, &id, date, batch, |_, _| ()).await
        }
        What::Night { count, entries, reason } => {
            let expected = if reason.is_some() { Expected::Something } else { Expected::Nothing };
            let night = Submission { id: key, count, entries, withdraw: Vec::new(), reason };
            let Hand { caller, .. } = &hands.manager;
            let deps = hands.manager.at(at);
            let sent =
                nights::submit(&deps, caller, store, date, &expected, night, |_, receipt| {
                    let held = receipt.waiting.first().map(|waiting| &waiting.revision);
                    held.map(|held| (held.number, held.open().map(Check::id).collect::<Vec<_>>()))
                });
            match sent.await {
                Ok(reply) if reply.status == 202 => {
                    let asked = serde_json::from_value(reply.body)?;
                    let key = WriteId(uuid::Uuid::from_u128(key.0.as_u128() ^ 1));
                    count_again(&deps, caller, key, (store, date), asked).await
                }
                other => other,
            }
        }
    };
    done(&told, reply)
}

/// Answers everything that is asked: the manager looks once more, and it is right.
async fn count_again(
    deps: &Deps,
    caller: &Caller,
    key: WriteId,
    at: (&StoreId, BusinessDate),
    (revision, asked): (i32, Vec<String>),
) -> Result<Reply, AppError> {
    let right = |check| Answered {
        check,
        answer: Choice::Full(Answer::CountedAgain { lines: Vec::new() }),
        reason: None,
    };
    let answers = asked.into_iter().map(right).collect();
    let confirmation = Confirmation { revision, answers };
    confirmations::confirm(deps, caller, key, at, &confirmation, |_, _| ()).await
}

/// That a use case did what it was asked.
fn done(what: &str, reply: Result<Reply, AppError>) -> anyhow::Result<()> {
    reply.map(|_| ()).map_err(plain).with_context(|| what.to_owned())
}

/// An error with everything it says: whoever loads a demo is to see it.
fn plain(error: AppError) -> anyhow::Error {
    match error {
        AppError::Internal(cause) => cause,
        AppError::Invalid(faults) => anyhow!("{faults:?}"),
        other => anyhow!("{other}"),
    }
}
