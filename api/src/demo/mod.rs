//! The demo: an invented chain of griddle counters in an invented river valley and on its coast, with
//! weeks of facts that end yesterday; and larger chains of the same kind, for load.
//!
//! Head office and its people act through the use cases, at the moments they would have; what stores
//! recorded through the weeks is loaded as a history is, under the same rules. The same seed, size
//! and day give the same facts. The caller decides where a demo belongs; it is for a private cluster.

pub mod chain;
pub mod chance;
mod days;
mod history;
mod kitchen;
pub mod pars;
mod people;
pub mod places;
mod sales;
mod stock;

use std::path::Path;
use std::sync::Arc;

use anyhow::{Context, anyhow};
use chrono::{DateTime, NaiveTime, TimeDelta, Utc};
use diesel_async::{AsyncConnection, AsyncPgConnection};
use futures::{StreamExt, TryStreamExt, stream};
use parings_core::calendar::{BusinessDate, business_date};
use parings_core::ids::{PersonId, WriteId};

use crate::app::Deps;
use crate::app::ground::writes::{Operation, Reply, Write};
use crate::app::night::loading::{self, Existing, How, StoreFacts};
use crate::context::Caller;
use crate::db;
use crate::edge::{Clock, new_id};
use crate::error::AppError;
use crate::starting;
use history::Hands;
use kitchen::Kitchen;
pub use people::{FILE, SignIn, SignIns};

/// How large a demo is.
#[derive(Debug, Clone, Copy)]
pub struct Size {
    /// Stores.
    pub stores: usize,
    /// Weeks that end yesterday.
    pub weeks: usize,
    /// What chance starts from.
    pub seed: u64,
}

impl Default for Size {
    fn default() -> Self {
        Self { stores: places::STORES, weeks: 12, seed: 0 }
    }
}

/// Days before the first night on which head office put its documents on record.
const BEFORE: i64 = 6;

/// Stores that are worked on at once.
const AT_ONCE: usize = 2;

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

/// Loads the demo, and writes the passwords to [`FILE`] in `folder`. `step` is told after each
/// store how many are done, and of how many. Nothing is done, and nobody answered, where the
/// network has stores.
///
/// A load that is broken off is not taken up again: begin with an empty database then.
///
/// # Errors
/// When the database cannot be reached, the file not written, or something is refused, which a test
/// rules out.
pub async fn load(
    deps: &Deps,
    owner_url: &str,
    folder: &Path,
    size: Size,
    now: DateTime<Utc>,
    mut step: impl FnMut(usize, usize),
) -> anyhow::Result<Option<SignIns>> {
    starting::put(owner_url).await?;
    if has_stores(owner_url).await? {
        return Ok(None);
    }
    let places = places::places(size.stores, size.seed);
    let catalog = Arc::new(chain::catalog(&places)?);
    // Yesterday in every zone of the valley.
    let todays = catalog.stores.values().map(|s| business_date(now, &s.zone, s.cut_off));
    let last = todays.min().context("a chain without stores")?.pred();
    let first = last.plus_days(1 - 7 * i64::try_from(size.weeks)?);
    let opening = morning(first.plus_days(-BEFORE));

    let sign_ins = people::add(deps, owner_url, &places, opening).await?;
    people::tell(&sign_ins, folder)?;
    let office = sign_ins.find("office", None).context("nobody of head office")?;
    let office = Hand::new(deps, office.id);
    chain::open(&office, &places, opening, first.plus_days(1 - BEFORE)).await?;
    pars::publish(&office, opening, first.plus_days(1 - BEFORE)).await?;
    chain::live(&office, &places, first, last).await?;

    let of = places.len();
    let work = places.into_iter().map(|place| {
        let (catalog, office) = (Arc::clone(&catalog), &office);
        let hands = Hands::of(&sign_ins, &place.code);
        async move {
            let facts = tokio::task::spawn_blocking(move || {
                history::of(Kitchen::new(&catalog, &place)?, &hands?, first, last)
            });
            bring(office, facts.await??).await
        }
    });
    let mut done = 0;
    let mut work = stream::iter(work).buffer_unordered(AT_ONCE);
    while work.try_next().await?.is_some() {
        done += 1;
        step(done, of);
    }
    drop(work);
    db::migrate::analyze(owner_url).await?;
    Ok(Some(sign_ins))
}

/// Loads what a store recorded.
async fn bring(office: &Hand, facts: StoreFacts) -> anyhow::Result<()> {
    let Hand { deps, caller } = office;
    let store = facts.store.clone();
    let how = How { write: Some(WriteId(new_id())), existing: Existing::Refuse };
    let loaded = deps
        .acting(caller, async |conn, _| {
            let loaded = loading::load(deps, conn, caller, how, vec![facts], |_| ()).await?;
            Ok(loaded.map_err(|refused| anyhow!("{refused:?}"))?)
        })
        .await;
    loaded.map(|_| ()).map_err(plain).with_context(|| store.to_string())
}

/// Nine o'clock UTC on a date, when head office is at work.
fn morning(date: BusinessDate) -> DateTime<Utc> {
    chrono::NaiveDate::from(date).and_time(NaiveTime::MIN).and_utc() + TimeDelta::hours(9)
}

async fn has_stores(owner_url: &str) -> anyhow::Result<bool> {
    let mut conn = AsyncPgConnection::establish(owner_url).await.context("connect as the owner")?;
    Ok(db::reference::has_any(&mut conn, parings_core::catalog::Kind::Store).await?)
}

/// A write of the demo, which nobody sends again.
fn write(what: &str) -> Write {
    Operation(format!("demo: {what}")).under(WriteId(new_id()))
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
