//! What a store is to prepare for a daypart.

use std::collections::BTreeMap;

use chrono::{DateTime, Utc};
use diesel_async::AsyncPgConnection;
use parings_core::calendar::{BusinessDate, wall_time};
use parings_core::catalog::Item;
use parings_core::ids::{DaypartId, ItemId, StoreId};
use parings_core::night::{Count, EntryBody};
use parings_core::pars::Applied;
use parings_core::prep::{self, Batch, Need, OnHand, Usable, batch_of, need};
use parings_core::quantity::{Base, Dimension};

use crate::app::Deps;
use crate::app::demand::pars::{Ground, InForce};
use crate::context::Caller;
use crate::db;
use crate::error::AppError;

/// What is to be prepared for a daypart.
#[derive(Debug, Clone, PartialEq)]
pub struct Prep {
    /// The store that prepares.
    pub store: StoreId,
    /// The business date that it is prepared for.
    pub date: BusinessDate,
    /// The daypart that it is to be ready for.
    pub daypart: DaypartId,
    /// When the daypart begins: what must be thrown away by then is not usable.
    pub needed_at: DateTime<Utc>,
    /// Whether the store stays closed on the date.
    pub closed: bool,
    /// The set in force.
    pub in_force: Option<InForce>,
    /// What is to be ready.
    pub items: Vec<PrepItem>,
    /// Items that cannot be worked out, and why.
    pub left_out: Vec<(ItemId, String)>,
}

/// An item that is to be ready.
#[derive(Debug, Clone, PartialEq)]
pub struct PrepItem {
    /// The item's code.
    pub item: ItemId,
    /// What people call it.
    pub title: String,
    /// What it is measured by.
    pub dimension: Dimension,
    /// The par and its rule.
    pub applied: Applied,
    /// The par in base units at its stage.
    pub par: Base,
    /// One batch, where it is known.
    pub batch: Option<Batch>,
    /// The date of the count that what is on hand goes by.
    pub counted_on: Option<BusinessDate>,
    /// What is on hand.
    pub on_hand: OnHand,
    /// What of it will be usable; nothing where nobody can tell what is on hand.
    pub usable: Option<Usable>,
    /// What is to be made, where all that is usable is known.
    pub need: Option<Need>,
    /// Else, what is to be made if all of what is on hand is usable; nothing where that is unknown too.
    pub if_all: Option<Need>,
    /// And what is to be made if nothing is that is not certain to be.
    pub if_none: Option<Need>,
}

/// What a store is to prepare for a daypart of a date, as far as is known now.
///
/// # Errors
/// 404 when the store is not the caller's to see on that date, 403 for a till; 422 when the store has
/// no such daypart.
pub async fn find(
    deps: &Deps,
    caller: &Caller,
    store: &StoreId,
    date: BusinessDate,
    daypart: &DaypartId,
) -> Result<Prep, AppError> {
    deps.acting(caller, async |conn, ctx| {
        let ground = Ground::read(deps, conn, ctx, store, date, ctx.now).await?;
        let hours = ground.dayparts.iter().find(|known| known.code == *daypart);
        let hours = hours.map(|known| known.hours).ok_or_else(|| {
            let known: Vec<_> = ground.dayparts.iter().map(|d| d.code.as_str()).collect();
            let says = format!("{store} has no daypart \"{daypart}\": it has {}", known.join(", "));
            AppError::invalid("/daypart", says)
        })?;
        let at = &ground.store;
        let needed_at = wall_time(date, hours.from(), &at.zone, at.cut_off);
        let (lines, _) = ground.lines(date);
        let lines: Vec<_> = lines.into_iter().filter(|l| l.key.daypart == *daypart).collect();
        db::prep::act_for_prep(conn, store).await?;
        let items: Vec<&str> = lines.iter().map(|line| line.key.item.as_str()).collect();
        let facts = Facts::read(conn, store, date, &items).await?;
        let (mut found, mut left_out) = (Vec::new(), Vec::new());
        for line in lines {
            let id = line.key.item.clone();
            match item(&ground, &facts, &id, line.applied, needed_at) {
                Ok(item) => found.push(item),
                Err(says) => left_out.push((id, says)),
            }
        }
        Ok(Prep {
            store: store.clone(),
            date,
            daypart: daypart.clone(),
            needed_at,
            closed: !ground.store.is_open(date),
            in_force: ground.in_force,
            items: found,
            left_out,
        })
    })
    .await
}

/// What is known of the stock of a store before a date's own count.
struct Facts {
    /// The date each item was counted on last.
    counted_on: BTreeMap<ItemId, BusinessDate>,
    counts: BTreeMap<BusinessDate, Count>,
    entries: Vec<(BusinessDate, EntryBody)>,
}

impl Facts {
    async fn read(
        conn: &mut AsyncPgConnection,
        store: &StoreId,
        date: BusinessDate,
        items: &[&str],
    ) -> Result<Self, AppError> {
        let counted_on = db::tallies::counted_before(conn, store, date, items).await?;
        let Some(first) = counted_on.values().min().copied() else {
            return Ok(Self { counted_on, counts: BTreeMap::new(), entries: Vec::new() });
        };
        let counts = db::checks::counts_in_force(conn, store, first, date).await?;
        let counts = counts.into_iter().map(|row| (row.business_date.into(), row.body.0));
        let entries = db::prep::entries(conn, store, first, date).await?;
        let entries =
            entries.into_iter().map(|row| Ok((row.business_date.into(), read(row.body)?)));
        Ok(Self {
            counted_on,
            counts: counts.collect(),
            entries: entries.collect::<Result<_, AppError>>()?,
        })
    }
}

fn read<T: serde::de::DeserializeOwned>(body: serde_json::Value) -> Result<T, AppError> {
    serde_json::from_value(body).map_err(|e| AppError::Internal(e.into()))
}

/// What is to be made of one item; a sentence where the item does not fit the set.
fn item(
    ground: &Ground,
    facts: &Facts,
    id: &ItemId,
    applied: Applied,
    needed_at: DateTime<Utc>,
) -> Result<PrepItem, String> {
    let known: &Item = ground.catalog.item(id).map_err(|e| e.to_string())?;
    let stage = applied.par.stage.as_ref();
    let par = applied.par.amount(id, known).map_err(|e| e.to_string())?;
    let set = ground.in_force.as_ref().map(|in_force| &in_force.set);
    let batch = set.map(|set| batch_of(set, id, known, stage)).transpose();
    let batch = batch.map_err(|e| e.to_string())?.flatten();
    let counted_on = facts.counted_on.get(id).copied();
    let count = counted_on.and_then(|on| facts.counts.get(&on));
    let lines = count.map_or(&[][..], |count| count.lines.as_slice());
    let since = facts.entries.iter().filter(|(on, _)| counted_on.is_some_and(|c| *on > c));
    let since = since.map(|(_, body)| body);
    let on_hand = prep::on_hand(&ground.catalog, id, known, stage, lines, since);
    let usable = match &on_hand {
        OnHand::Known(stock) => Some(stock.usable(needed_at)),
        OnHand::Unknown(_) => None,
    };
    let need = |usable: Base| need(par, usable, batch).map_err(|e| e.to_string());
    let (known_need, if_all, if_none) = match usable {
        Some(Usable::Known(usable)) => (Some(need(usable)?), None, None),
        Some(Usable::Unknown { certain, untimed }) => {
            (None, Some(need(certain + untimed)?), Some(need(certain)?))
        }
        None => (None, None, Some(need(Base::ZERO)?)),
    };
    Ok(PrepItem {
        item: id.clone(),
        title: known.title.clone(),
        dimension: known.base,
        applied,
        par,
        batch,
        counted_on,
        on_hand,
        usable,
        need: known_need,
        if_all,
        if_none,
    })
}
