//! Transfers between stores. Each store records its own end; which ends belong together is told
//! anew whenever somebody asks, and is never part of a tally.

use std::collections::BTreeSet;

use chrono::{DateTime, TimeDelta, Utc};

use super::{AmountError, Entry, EntryBody, amount};
use crate::calendar::BusinessDate;
use crate::catalog::{Catalog, Limits, Settings};
use crate::ids::{EntryId, ItemId, StoreId};
use crate::quantity::Tallied;

/// Which end of a transfer it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Direction {
    /// The item left the store that recorded the end.
    Out,
    /// The item reached the store that recorded the end.
    In,
}

/// One end of a transfer, as its store recorded it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct TransferEnd {
    /// The entry that recorded the end.
    pub id: EntryId,
    /// The store that recorded it.
    pub store: StoreId,
    /// The store that it names as the other end.
    pub other: StoreId,
    /// Whether it went out or came in.
    pub direction: Direction,
    /// The item that was moved.
    pub item: ItemId,
    /// The business date that it was recorded for.
    pub date: BusinessDate,
    /// How much, as purchased.
    pub amount: Tallied,
    /// How far a count of as much is off: one standard deviation.
    pub give_or_take: Tallied,
    /// When it was recorded.
    pub recorded_at: DateTime<Utc>,
}

impl TransferEnd {
    /// The end that an entry records; none when the entry is no transfer.
    ///
    /// # Errors
    /// [`AmountError`] when the catalogue of its date has no such item, unit or stage.
    pub fn read(
        catalog: &Catalog,
        settings: &Settings,
        store: &StoreId,
        date: BusinessDate,
        entry: &Entry,
        recorded_at: DateTime<Utc>,
    ) -> Result<Option<Self>, AmountError> {
        let (direction, other) = match &entry.body {
            EntryBody::TransferIn { from, .. } => (Direction::In, from),
            EntryBody::TransferOut { to, .. } => (Direction::Out, to),
            _ => return Ok(None),
        };
        let Some(exact) = amount(catalog, &entry.body)? else { return Ok(None) };
        let id = entry.body.item();
        let item = catalog.item(id)?;
        let give_or_take = match &item.count_error {
            Some(typed) => item.measure(id, typed)?,
            None => exact * settings.count_error.decimal(),
        };
        Ok(Some(Self {
            id: entry.id,
            store: store.clone(),
            other: other.clone(),
            direction,
            item: id.clone(),
            date,
            amount: exact.settle()?,
            give_or_take: give_or_take.settle()?,
            recorded_at,
        }))
    }

    /// Whether the two could be ends of one transfer: one went out and one came in, of the same item,
    /// between the same stores, on dates no more than a day apart, or what the limits say.
    fn may_meet(&self, other: &Self, limits: &Limits) -> bool {
        self.direction != other.direction
            && self.item == other.item
            && self.store == other.other
            && self.other == other.store
            && self.date.days_until(other.date).abs() <= i64::from(limits.transfer_days)
    }

    fn gap(&self, other: &Self) -> Tallied {
        let gap = self.amount - other.amount;
        if gap < Tallied::default() { -gap } else { gap }
    }

    /// Whether the amounts are the same as far as scales tell.
    fn agrees(&self, other: &Self) -> bool {
        self.gap(other) <= self.give_or_take.max(other.give_or_take)
    }
}

/// A transfer as far as its ends tell.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Transfer {
    /// Both ends say the same, as far as scales tell.
    Matched {
        /// The end it left.
        out: TransferEnd,
        /// The end it reached.
        into: TransferEnd,
    },
    /// The ends belong together and their amounts differ.
    Differs {
        /// The end it left.
        out: TransferEnd,
        /// The end it reached.
        into: TransferEnd,
    },
    /// The other store has not recorded its end.
    OneSided(TransferEnd),
}

impl Transfer {
    /// The ends that are on record: two, or the one of a transfer that is one-sided.
    pub fn ends(&self) -> Vec<&TransferEnd> {
        match self {
            Self::Matched { out, into } | Self::Differs { out, into } => vec![out, into],
            Self::OneSided(end) => vec![end],
        }
    }

    /// The date, item and id of its first end: what a list of transfers is ordered by.
    pub fn key(&self) -> (BusinessDate, ItemId, EntryId) {
        let of = |end: &TransferEnd| (end.date, end.item.clone(), end.id);
        match self {
            Self::Matched { out, into } | Self::Differs { out, into } => of(out).min(of(into)),
            Self::OneSided(end) => of(end),
        }
    }

    /// Whether both stores should look: the other end is missing some hours (24 at first) after this
    /// one was recorded. An end that came an hour ago is no fault yet.
    pub fn is_overdue(&self, now: DateTime<Utc>, limits: &Limits) -> bool {
        match self {
            Self::OneSided(end) => now - end.recorded_at >= TimeDelta::from(limits.transfer_hours),
            Self::Matched { .. } | Self::Differs { .. } => false,
        }
    }
}

/// Puts ends together. Each is used once. Ends whose amounts agree go first, then those nearest in
/// date, then in amount; so the answer does not depend on the order in which ends are given, nor
/// on which of the stores one looks from.
///
/// ```
/// use parings_core::calendar::BusinessDate;
/// use parings_core::catalog::Limits;
/// use parings_core::ids::{EntryId, ItemId, StoreId};
/// use parings_core::night::{Direction, Transfer, TransferEnd, match_transfers};
/// use parings_core::quantity::Tallied;
///
/// let out = TransferEnd {
///     id: EntryId(uuid::Uuid::from_u128(1)),
///     store: StoreId::new("ford").unwrap(),
///     other: StoreId::new("weir").unwrap(),
///     direction: Direction::Out,
///     item: ItemId::new("potato").unwrap(),
///     date: BusinessDate::new(2026, 6, 15).unwrap(),
///     amount: Tallied::from_thousandths(22_680_000),
///     give_or_take: Tallied::from_thousandths(500_000),
///     recorded_at: chrono::DateTime::UNIX_EPOCH,
/// };
/// let into = TransferEnd {
///     id: EntryId(uuid::Uuid::from_u128(2)),
///     store: out.other.clone(),
///     other: out.store.clone(),
///     direction: Direction::In,
///     amount: Tallied::from_thousandths(22_700_000),
///     ..out.clone()
/// };
/// let found = match_transfers(&[into.clone(), out.clone()], &Limits::default());
/// assert_eq!(found, [Transfer::Matched { out, into }]);
/// ```
pub fn match_transfers(ends: &[TransferEnd], limits: &Limits) -> Vec<Transfer> {
    let (outs, ins): (Vec<_>, Vec<_>) =
        ends.iter().partition(|end| end.direction == Direction::Out);
    let mut pairs: Vec<_> = outs
        .iter()
        .flat_map(|out| {
            ins.iter().filter(|into| out.may_meet(into, limits)).map(move |into| (*out, *into))
        })
        .collect();
    pairs.sort_by_key(|(out, into)| {
        let days = out.date.days_until(into.date).abs();
        let ids = (out.id.min(into.id), out.id.max(into.id));
        (!out.agrees(into), days, out.gap(into), ids)
    });
    let mut used = BTreeSet::new();
    let mut found = Vec::new();
    for (out, into) in pairs {
        if used.contains(&out.id) || used.contains(&into.id) {
            continue;
        }
        used.extend([out.id, into.id]);
        let (agrees, out, into) = (out.agrees(into), out.clone(), into.clone());
        found.push(match agrees {
            true => Transfer::Matched { out, into },
            false => Transfer::Differs { out, into },
        });
    }
    let alone = ends.iter().filter(|end| !used.contains(&end.id));
    found.extend(alone.cloned().map(Transfer::OneSided));
    found.sort_by_key(Transfer::key);
    found
}

#[cfg(test)]
mod tests;
