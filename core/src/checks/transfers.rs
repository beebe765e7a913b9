//! Transfers between stores: each end is recorded by its own store.

use chrono::{DateTime, TimeDelta, Utc};

use super::{About, Check, Kind};
use crate::calendar::BusinessDate;
use crate::catalog::Limits;
use crate::ids::{EntryId, ItemId, StageId, StoreId};
use crate::quantity::Base;

/// One end of a transfer, as a store recorded it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct TransferEnd {
    /// The entry.
    pub entry: EntryId,
    /// The store that recorded it.
    pub store: StoreId,
    /// The store that it names.
    pub other: StoreId,
    /// The business date.
    pub date: BusinessDate,
    /// When it was recorded.
    pub recorded_at: DateTime<Utc>,
    /// What was moved.
    pub item: ItemId,
    /// At which stage; none for as purchased.
    pub stage: Option<StageId>,
    /// How much, as purchased.
    pub amount: Base,
}

/// The ends that have no other: what went out and was not entered as come, and the other way. Ends
/// match by item, stage and the two stores, when they lie within a day and differ by no more than
/// the tolerance; the nearest in date and then in amount go together. An end younger than a day
/// waits. Each is said to both stores (`store` and `other`); tallies know nothing of it, since each
/// store records its own end.
///
/// ```
/// use parings_core::catalog::Limits;
/// use parings_core::checks::{TransferEnd, one_sided};
/// use parings_core::ids::EntryId;
/// use parings_core::quantity::Base;
/// let end = |n: u128, store: &str, other: &str, date: &str, grams: i64| TransferEnd {
///     entry: EntryId(uuid::Uuid::from_u128(n)),
///     store: store.parse().unwrap(),
///     other: other.parse().unwrap(),
///     date: date.parse().unwrap(),
///     recorded_at: "2025-06-14T08:00:00Z".parse().unwrap(),
///     item: "potato".parse().unwrap(),
///     stage: None,
///     amount: Base::new(grams.into()),
/// };
/// let out = [end(1, "ford", "weir", "2025-06-13", 22_680), end(2, "ford", "weir", "2025-06-13", 9_000)];
/// let came = [end(3, "weir", "ford", "2025-06-14", 22_500)];
/// let (limits, later) = (Limits::default(), "2025-06-16T08:00:00Z".parse().unwrap());
/// let alone = one_sided(&out, &came, later, &limits);
/// assert_eq!(alone.iter().map(|(end, _)| end.entry).collect::<Vec<_>>(), [out[1].entry]);
/// ```
pub fn one_sided<'a>(
    out: &'a [TransferEnd],
    came: &'a [TransferEnd],
    now: DateTime<Utc>,
    limits: &Limits,
) -> Vec<(&'a TransferEnd, Check)> {
    let mut pairs: Vec<_> = out
        .iter()
        .enumerate()
        .flat_map(|(o, sent)| came.iter().enumerate().map(move |(c, got)| (o, sent, c, got)))
        .filter(|(_, sent, _, got)| belong(sent, got, limits))
        .map(|(o, sent, c, got)| {
            let days = sent.date.days_until(got.date).abs();
            let differ = (sent.amount - got.amount).value().abs();
            ((days, differ, sent.entry, got.entry), o, c)
        })
        .collect();
    pairs.sort_unstable();
    let (mut paired_out, mut paired_came) = (vec![false; out.len()], vec![false; came.len()]);
    for (_, o, c) in pairs {
        if !paired_out[o] && !paired_came[c] {
            (paired_out[o], paired_came[c]) = (true, true);
        }
    }
    let alone = |ends: &'a [TransferEnd], paired: Vec<bool>, way: &'static str| {
        ends.iter()
            .zip(paired)
            .filter(move |(end, paired)| {
                !paired && now - end.recorded_at > TimeDelta::from(limits.transfer_hours)
            })
            .map(move |(end, _)| (end, said(end, way)))
    };
    let mut all: Vec<_> =
        alone(out, paired_out, "to").chain(alone(came, paired_came, "from")).collect();
    all.sort_by_key(|(end, _)| (end.date, end.entry));
    all
}

fn belong(sent: &TransferEnd, got: &TransferEnd, limits: &Limits) -> bool {
    let most = sent.amount.max(got.amount).value() * limits.transfer_tolerance.decimal();
    sent.store == got.other
        && sent.other == got.store
        && sent.item == got.item
        && sent.stage == got.stage
        && sent.date.days_until(got.date).abs() <= i64::from(limits.transfer_days)
        && (sent.amount - got.amount).value().abs() <= most
}

fn said(end: &TransferEnd, way: &str) -> Check {
    let TransferEnd { store, other, date, item, .. } = end;
    let says =
        format!("{store} moved {item} {way} {other} on {date}, and {other} has no such entry");
    Check::new(Kind::OneSidedTransfer, About::Entry { entry: end.entry, item: item.clone() }, says)
}
