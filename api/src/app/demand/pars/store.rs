//! The pars that apply to a store.

use std::sync::Arc;

use chrono::{DateTime, Utc};
use diesel_async::AsyncPgConnection;
use parings_core::access::{Action, Target};
use parings_core::calendar::BusinessDate;
use parings_core::catalog::{Catalog, Daypart, Store};
use parings_core::ids::StoreId;
use parings_core::pars::{Applied, ParKey, ParSet, Publication, Whose, same};
use parings_core::quantity::Amount;

use super::{known, named};
use crate::app::Deps;
use crate::app::ground::catalog;
use crate::app::night::{as_known, tallying};
use crate::context::{Caller, Ctx};
use crate::error::AppError;

/// The pars of a store on a date.
#[derive(Debug, Clone, PartialEq)]
pub struct StorePars {
    /// The store whose pars these are.
    pub store: StoreId,
    /// The business date that they apply on.
    pub date: BusinessDate,
    /// Whether the store stays closed on it; then nothing is to be ready.
    pub closed: bool,
    /// What is in force.
    pub in_force: Option<InForce>,
    /// What applies, in order of the dayparts.
    pub lines: Vec<Line>,
    /// What applied by the set before, and does no longer.
    pub taken_out: Vec<(ParKey, Applied)>,
}

/// A set in force.
#[derive(Debug, Clone, PartialEq)]
pub struct InForce {
    /// Since when, and why.
    pub publication: Publication,
    /// What it says.
    pub set: ParSet,
    /// What was in force before it.
    pub before: Option<(Publication, ParSet)>,
}

/// A par that applies.
#[derive(Debug, Clone, PartialEq)]
pub struct Line {
    /// The item and daypart.
    pub key: ParKey,
    /// The par and its rule.
    pub applied: Applied,
    /// What it is in the item's unit, at its stage; nothing when the item does not fit any more.
    pub amount: Option<Amount>,
    /// That the set before said something else.
    pub was: Option<Was>,
}

/// What the set before said.
#[derive(Debug, Clone, PartialEq)]
pub struct Was(pub Option<Applied>);

/// A store on a date: what its pars are read by.
pub(in crate::app::demand) struct Ground {
    /// The catalogue, with the store.
    pub catalog: Arc<Catalog>,
    pub store: Store,
    /// Its own dayparts, else its format's, else everybody's.
    pub dayparts: Vec<Daypart>,
    /// The set in force.
    pub in_force: Option<InForce>,
}

impl Ground {
    /// Asks the policy, and reads what was in force on the date as known at a moment.
    ///
    /// # Errors
    /// 404 when the store is not the acting person's to see on that date, 403 for a till.
    pub async fn read(
        deps: &Deps,
        conn: &mut AsyncPgConnection,
        ctx: &Ctx,
        id: &StoreId,
        date: BusinessDate,
        known_at: DateTime<Utc>,
    ) -> Result<Self, AppError> {
        let standing = catalog::standing(conn, date, ctx.now, id).await?;
        ctx.require(Action::ReadPars, &Target::Store(&standing))?;
        let catalog = catalog::in_force(deps, conn, date, known_at, Some(id)).await?;
        let store = tallying::in_catalog(&catalog, id)?.clone();
        let dayparts = catalog.dayparts_of(id, &store);
        let known = known(conn, known_at).await?;
        let in_force = match known.in_force(date) {
            None => None,
            Some(publication) => {
                let set = named(conn, &publication.revision).await?;
                let before = match known.before(publication) {
                    Some(before) => Some((before.clone(), named(conn, &before.revision).await?)),
                    None => None,
                };
                Some(InForce { publication: publication.clone(), set, before })
            }
        };
        Ok(Self { catalog, store, dayparts, in_force })
    }

    fn whose(&self) -> Whose {
        Whose { format: self.store.format.clone() }
    }

    /// The place of a daypart in the day.
    fn turn(&self, key: &ParKey) -> usize {
        self.dayparts.iter().position(|d| d.code == key.daypart).unwrap_or(self.dayparts.len())
    }

    /// What applies on the date, in order of the dayparts, and what applied by the set before and
    /// does no longer.
    pub fn lines(&self, date: BusinessDate) -> (Vec<Line>, Vec<(ParKey, Applied)>) {
        let Some(in_force) = self.in_force.as_ref().filter(|_| self.store.is_open(date)) else {
            return (Vec::new(), Vec::new());
        };
        let (whose, weekday) = (self.whose(), date.weekday());
        let is = in_force.set.on(&whose, weekday);
        let before = in_force.before.as_ref().map(|(_, set)| set.on(&whose, weekday));
        let was = |key: &ParKey, applied: &Applied| {
            let was = before.as_ref()?.get(key);
            let alike =
                was.is_some_and(|was| same(&self.catalog, &key.item, &was.par, &applied.par));
            (!alike).then(|| Was(was.cloned()))
        };
        let amount = |key: &ParKey, applied: &Applied| {
            let item = self.catalog.items.get(&key.item)?;
            let amount = applied.par.amount(&key.item, item).ok()?;
            Some(Amount::new(item.base, amount.value()))
        };
        let lines = is.iter().map(|(key, applied)| Line {
            key: key.clone(),
            applied: applied.clone(),
            amount: amount(key, applied),
            was: was(key, applied),
        });
        let mut lines: Vec<_> = lines.collect();
        lines.sort_by_key(|line| self.turn(&line.key));
        let gone = before.iter().flatten().filter(|(key, _)| !is.contains_key(key));
        let mut gone: Vec<_> = gone.map(|(key, was)| (key.clone(), was.clone())).collect();
        gone.sort_by_key(|(key, _)| self.turn(key));
        (lines, gone)
    }
}

/// The pars of a store on a date, as known at a moment.
///
/// # Errors
/// 404 when the store is not the caller's to see on that date, 403 for a till; 422 for a moment that
/// is still to come.
pub async fn of_store(
    deps: &Deps,
    caller: &Caller,
    store: &StoreId,
    date: BusinessDate,
    as_known_at: Option<DateTime<Utc>>,
) -> Result<StorePars, AppError> {
    deps.acting(caller, async |conn, ctx| {
        if let Some(moment) = as_known_at {
            as_known::past(moment, ctx.now, "/as_known_at")?;
        }
        let known_at = as_known_at.unwrap_or(ctx.now);
        let ground = Ground::read(deps, conn, ctx, store, date, known_at).await?;
        let (lines, taken_out) = ground.lines(date);
        let closed = !ground.store.is_open(date);
        let store = store.clone();
        Ok(StorePars { store, date, closed, in_force: ground.in_force, lines, taken_out })
    })
    .await
}
